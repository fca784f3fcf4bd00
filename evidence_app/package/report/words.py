"""How the report writes things: hidden characters, times, states, numbers.

Every text of a journal may be hostile. The template escapes all of it; here
what escaping leaves alone is made visible: control characters, characters that
turn the direction of writing, and characters that cannot be seen. The ranges
are written out, not asked of the Unicode tables, so that the same journal gives
the same report with every version of Python.
"""

from __future__ import annotations

import re

from markupsafe import Markup

from evidence_app.job.summary.event_sentences import FINDINGS, SOURCES, duration, plain
from evidence_app.sentence import Sentence

__all__ = ["FINDINGS", "SOURCES", "duration", "plain"]

# C0 but tab and line feed, DEL and C1, soft hyphen, fillers, vowel separators, zero width and
# directional marks, line separators, embeddings and overrides, invisible operators, isolates,
# byte order mark, interlinear marks, musical and tag controls, and halves of surrogate pairs.
_HIDDEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f"
    "\u200b-\u200f\u2028-\u202e\u2060-\u206f\u3164\ufeff\uffa0\ufff0-\ufffb"
    "\U0001d173-\U0001d17a\U000e0000-\U000e0fff\ud800-\udfff]"
)

_WALL = re.compile(r"(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2}:\d{2})(?:\.(\d+))?(Z|[+-]\d{2}:\d{2})")

STATES = {
    "shown": "shown",
    "kept": "kept with a stated reason",
    "missing": "MISSING",
    "unfinished": "not finished",
    "not-reached": "not reached",
}
OWED_KINDS = {
    "caution": "Caution",
    "tool": "Tool",
    "consumable": "Consumable",
    "new-part": "New part",
    "hold": "Hold",
    "reading": "Reading",
    "photo": "Photo",
    "finding": "Finding",
    "spoken-reason": "Spoken reason",
    "name": "Name",
}
HEADLINES = {
    "completed": "Repair completed",
    "stopped": "Repair stopped",
    "abandoned": "Job abandoned",
    "open": "Job not closed",
}
ITEM_LISTS = {"tools": "Tool", "consumables": "Consumable", "new-parts": "New part"}
ENTERED_BY = {"typed": "typed", "spoken": "spoken", "scanned": "scanned"}
_CONFORMITY = {
    "within": "within its limits",
    "outside": "outside its limits",
    "inconclusive": "inconclusive: the uncertainty reaches over a limit",
    "refused": "not measured",
}


def conformity(kind: str | None, found: str | None) -> str:
    """What a measurement's conformity says; marks of residue are never held against a limit."""
    if kind == "residue" and found == "inconclusive":
        return "advice only, held against no limit"
    return _CONFORMITY.get(found or "", found or "not stated")


def visible(value: object) -> object:
    """``value`` as the template may write it: hidden characters as ⟨U+202E⟩."""
    if isinstance(value, Markup):
        return value
    if value is None:
        return "not stated"
    if isinstance(value, Sentence):
        value = str(value)
    if not isinstance(value, str) or (value.isascii() and value.isprintable()):
        return value
    return _HIDDEN.sub(lambda found: f"⟨U+{ord(found[0]):04X}⟩", value)


def when(wall: str | None) -> str:
    """Like "2026-03-02 08:15:30 +01:00"; the text itself when it is no RFC 3339 time."""
    if wall is None:
        return "not stated"
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


def size(byte_count: int | None) -> str:
    """Like "4.2 MB", "318 kB" (powers of ten)."""
    if byte_count is None:
        return "size not stated"
    if byte_count < 1000:
        return f"{byte_count} bytes"
    if byte_count < 999_500:
        return f"{byte_count / 1e3:.0f} kB"
    return f"{byte_count / 1e6:.1f} MB"


def limits(at_least: float | None, at_most: float | None, unit: str | None) -> str:
    """Like "at least 1 and at most 2 mm", "no limits"."""
    if at_least is not None and at_least == at_most:
        return f"exactly {plain(at_least)} {unit or ''}".strip()
    parts = [f"at least {plain(at_least)}"] if at_least is not None else []
    parts += [f"at most {plain(at_most)}"] if at_most is not None else []
    return f"{' and '.join(parts)} {unit or ''}".strip() if parts else "no limits"


def count(number: int, word: str, words: str | None = None) -> str:
    """Like "1 photo", "2 photos"."""
    return f"{number} {word if number == 1 else words or f'{word}s'}"


def bare(said: str | Sentence | None) -> str:
    return str(said or "not stated").strip().rstrip(".")


def _offset(offset: str) -> str:
    return "UTC" if offset == "Z" else offset
