"""Every word of the tablet, in the language chosen, through one gettext catalogue.

English stands in the code as the key of each text; the others in
assets/locale/<language>/LC_MESSAGES/: tablet.po, desk.po and what is compiled from them.
"""

from __future__ import annotations

import gettext
from decimal import Decimal

from evidence_app.errors import EvidenceError
from evidence_app.locations import asset

DOMAINS = ("tablet", "desk")
LANGUAGES = {"en": "English", "de": "Deutsch"}

_catalogue: gettext.NullTranslations = gettext.NullTranslations()
_language = "en"


def use(language: str) -> None:
    """Speak ``language`` from now on; English when there is no catalogue for it."""
    global _catalogue, _language
    _language = language if language in LANGUAGES else "en"
    try:
        folder = str(asset("locale"))
    except EvidenceError:
        folder = None
    _catalogue, *others = (
        gettext.translation(domain, folder, [_language], fallback=True) for domain in DOMAINS
    )
    for other in others:
        _catalogue.add_fallback(other)


def language() -> str:
    return _language


def say(text: str, /, **values: object) -> str:
    """``text`` in the language in use, its {named} places filled."""
    said = _catalogue.gettext(text)
    return said.format(**values) if values else said


def say_many(one: str, many: str, count: int, /, **values: object) -> str:
    """``one`` or ``many`` by ``count``, which fills the place {count}."""
    return _catalogue.ngettext(one, many, count).format(count=count, **values)


def mark(text: str) -> str:
    """Marks a text for the catalogue where it stands in a table; say() it later."""
    return text


def number(value: float | str) -> str:
    """A number as people write it, shortest form; a full stop stays a full stop."""
    return f"{Decimal(str(value)).normalize():f}"


def duration(seconds: float) -> str:
    """ "1 min 30 s", "45 s", "2 h 5 min": units of the SI and those accepted with it."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    parts = ((hours, "h"), (minutes, "min"), (left, "s"))
    return " ".join(f"{n} {unit}" for n, unit in parts if n) or "0 s"


def bare(sentence: str) -> str:
    """A sentence without the full stop at its end, to stand inside another."""
    return " ".join(sentence.split()).rstrip(".")
