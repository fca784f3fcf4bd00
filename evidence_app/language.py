"""The language in use, and every sentence in it, through gettext.

English stands in the code as the key of each text. The other languages are in
assets/locale/<language>/LC_MESSAGES, one catalogue for each room; what none of them says
stays English, so that nothing is ever left unsaid.
"""

import gettext
import os
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import lru_cache
from typing import Any

from evidence_app.errors import EvidenceError
from evidence_app.locations import asset
from evidence_app.sentence import Sentence, recorded

LANGUAGES = {"en": "English", "de": "Deutsch"}

_of_the_process = "en"
_of_this_context: ContextVar[str | None] = ContextVar("language", default=None)


def use(language: str) -> None:
    """Speak ``language`` from now on; English when there is no catalogue for it."""
    global _of_the_process
    _of_the_process = language if language in LANGUAGES else "en"


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Speak ``language`` within this block, in this thread or task alone."""
    token = _of_this_context.set(language if language in LANGUAGES else "en")
    try:
        yield
    finally:
        _of_this_context.reset(token)


def language() -> str:
    return _of_this_context.get() or _of_the_process


def of_the_system() -> str:
    """The language that the environment asks for, by LANGUAGE, LC_ALL, LC_MESSAGES and LANG
    in this order (POSIX.1-2017, 8.2); English when it is none of ours."""
    for name in ("LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG"):
        wanted = os.environ.get(name, "")
        if wanted:
            code = wanted.split(":")[0].split("_")[0].split(".")[0].lower()
            return code if code in LANGUAGES else "en"
    return "en"


def say(text: str | Sentence, /, **values: object) -> str:
    """``text`` in the language in use, its {named} places filled with ``values``; or a
    sentence, whose templates alone are translated."""
    catalogue = _catalogue(language())
    if isinstance(text, Sentence):
        return text.said(catalogue.gettext, catalogue.ngettext)
    said = catalogue.gettext(text)
    return said.format(**values) if values else said


def say_many(one: str, many: str, count: int, /, **values: object) -> str:
    """``one`` or ``many`` by ``count``, which fills the place {count}."""
    return _catalogue(language()).ngettext(one, many, count).format(count=count, **values)


def reworded(told: dict[str, Any]) -> str:
    """What a check or measurement of a journal says, in the language in use."""
    return say(recorded(told))


def mark(text: str) -> str:
    """Marks a text for the catalogue where it stands in a table; say() it later."""
    return text


@lru_cache
def _catalogue(language: str) -> gettext.NullTranslations:
    """Every room's catalogue of ``language``, each asked in turn."""
    joined = gettext.NullTranslations()
    if language == "en":
        return joined
    try:
        folder = asset(f"locale/{language}/LC_MESSAGES")
    except EvidenceError:
        return joined
    for path in sorted(folder.glob("*.mo")):
        with path.open("rb") as file:
            joined.add_fallback(gettext.GNUTranslations(file))
    return joined
