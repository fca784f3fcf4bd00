"""How the report writes things: hidden characters, times, states, numbers.

Every text of a journal may be hostile. The template escapes all of it; here
what escaping leaves alone is made visible: control characters, characters that
turn the direction of writing, and characters that cannot be seen. The ranges
are written out, not asked of the Unicode tables, so that the same journal gives
the same report with every version of Python.
"""

import re

from markupsafe import Markup, escape

from evidence_app.job.summary.event_sentences import conformity_words, plain
from evidence_app.job.summary.model_step import MeasurementRecord
from evidence_app.language import say, say_many
from evidence_app.sentence import Sentence, joined, sentence, sentences_beside

# C0 but tab and line feed, DEL and C1, soft hyphen, fillers, vowel separators, zero width and
# directional marks, line separators, embeddings and overrides, invisible operators, isolates,
# byte order mark, interlinear marks, musical and tag controls, and halves of surrogate pairs.
_HIDDEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f"
    "\u200b-\u200f\u2028-\u202e\u2060-\u206f\u3164\ufeff\uffa0\ufff0-\ufffb"
    "\U0001d173-\U0001d17a\U000e0000-\U000e0fff\ud800-\udfff]"
)

_WALL = re.compile(r"(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2}:\d{2})(?:\.(\d+))?(Z|[+-]\d{2}:\d{2})")

_WORDS = sentences_beside(__file__)
STATES = _WORDS["states"]
KINDS = _WORDS["kinds"]
HEADLINES = _WORDS["headlines"]
NOT_STATED = sentence("not stated")
SEALED_IN = "en"
"""The language of the page inside a package: the same journal gives the same bytes."""


def conformity(measured: MeasurementRecord) -> Sentence | str:
    """What a measurement's conformity says."""
    return conformity_words(measured.conformity or "", measured.advice_only) or NOT_STATED


def said(text: str, /, **values: object) -> Markup:
    """``text`` in the language in use as HTML, its places filled with escaped values."""
    return Markup(escape(say(text))).format(**{n: visible(v) for n, v in values.items()})


def said_many(one: str, many: str, count: int, /) -> Markup:
    return Markup(escape(say_many(one, many, count)))


def visible(value: object) -> object:
    """``value`` as the template may write it: in the language in use, hidden characters as
    ⟨U+202E⟩."""
    if isinstance(value, Markup):
        return value
    if value is None:
        value = NOT_STATED
    if isinstance(value, Sentence):
        value = say(value)
    if not isinstance(value, str) or (value.isascii() and value.isprintable()):
        return value
    return _HIDDEN.sub(lambda found: f"⟨U+{ord(found[0]):04X}⟩", value)


def when(wall: str | None) -> str | Sentence:
    """Like "2026-03-02 08:15:30 +01:00"; the text itself when it is no RFC 3339 time."""
    if wall is None:
        return NOT_STATED
    found = _WALL.fullmatch(wall)
    return f"{found[1]} {found[2]} {_offset(found[4])}" if found else wall


def clock_time(wall: str) -> str:
    """Like "08:15:30.123", for tables that give the day beside it."""
    found = _WALL.fullmatch(wall)
    return f"{found[2]}.{found[3] or '0'}" if found else wall


def day(wall: str) -> str:
    """Like "2026-03-02, UTC +01:00"; empty when the text is no RFC 3339 time."""
    found = _WALL.fullmatch(wall)
    return f"{found[1]}, UTC {_offset(found[4])}" if found else ""


def size(byte_count: int | None) -> str | Sentence:
    """Like "4.2 MB", "318 kB" (powers of ten)."""
    if byte_count is None:
        return sentence("size not stated")
    if byte_count < 1000:
        return sentence("{count} bytes", count=byte_count)
    if byte_count < 999_500:
        return f"{byte_count / 1e3:.0f} kB"
    return f"{byte_count / 1e6:.1f} MB"


def limits(at_least: float | None, at_most: float | None, unit: str | None) -> Sentence:
    """Like "at least 1 and at most 2 mm", "no limits"."""

    def quantity(value: float) -> str:
        return f"{plain(value)} {unit or ''}".strip()

    if at_least is not None and at_least == at_most:
        return sentence("exactly {value}", value=quantity(at_least))
    parts = [sentence("at least {value}", value=quantity(at_least))] if at_least is not None else []
    if at_most is not None:
        parts.append(sentence("at most {value}", value=quantity(at_most)))
    return joined(", ", parts) if parts else sentence("no limits")


def bare(text: str | Sentence | None) -> str:
    """Without its full stop, in the language in use."""
    shown = say(text or NOT_STATED) if not isinstance(text, str) else text
    return shown.strip().rstrip(".")


def _offset(offset: str) -> str:
    return "UTC" if offset == "Z" else offset
