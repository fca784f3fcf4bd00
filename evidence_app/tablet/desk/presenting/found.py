"""Searching the register: what is looked for, and what was found."""

from __future__ import annotations

from typing import Any

import msgspec
from msgspec import Struct

from evidence_app.desk.register import ACCEPTED, PASSED_ON, RETURNED, Register
from evidence_app.desk.search import Wanted, find
from evidence_app.language import mark, say
from evidence_app.package.report.words import when
from evidence_app.tablet.desk.presenting.arrivals import before_words
from evidence_app.tablet.desk.presenting.package import DECISIONS, OUTCOMES
from evidence_app.tablet.presenting.from_below import told

FIELDS = {
    "serial": mark("Serial number"),
    "claim": mark("Claim number"),
    "technician": mark("Technician"),
    "outcome": mark("Outcome"),
    "decision": mark("Decision"),
    "since": mark("Closed on or after"),
    "until": mark("Closed on or before"),
    "text": mark("Words in notes and reasons"),
}
CHOICES = {
    "outcome": ("completed", "stopped", "abandoned"),
    "decision": ("none", ACCEPTED, RETURNED, PASSED_ON),
}
_SAID = OUTCOMES | DECISIONS | {"none": mark("none yet")}


class Row(Struct, frozen=True):
    """``good``: the latest check found nothing that fails."""

    package: int
    head: str
    words: tuple[str, ...]
    good: bool


def look_for(register: Register, wanted: Wanted, number: str = "") -> tuple[Row, ...]:
    """The packages that fit, newest receipt first. ``number`` is a serial or claim number.

    Raises RegisterError.
    """
    if number:
        rows = {
            row["id"]: row
            for name in ("serial", "claim")
            for row in find(register, msgspec.structs.replace(wanted, **{name: number}))
        }
        found = [rows[key] for key in sorted(rows)]
    else:
        found = find(register, wanted)
    return tuple(_row(row) for row in reversed(found))


def said(name: str, wanted: Wanted) -> str:
    """What is looked for in one field, in words."""
    value = getattr(wanted, name)
    if value is None:
        return say("any")
    return say(_SAID[value]) if name in CHOICES else value


def next_choice(name: str, wanted: Wanted) -> Wanted:
    """Any, then each choice of the field in turn, then any again."""
    circle = (None, *CHOICES[name])
    value = circle[(circle.index(getattr(wanted, name)) + 1) % len(circle)]
    return msgspec.structs.replace(wanted, **{name: value})


def day_of(text: str) -> str | None:
    """A day as ``YYYY-MM-DD``; None when it is none."""
    from datetime import date

    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        return None


def _row(row: dict[str, Any]) -> Row:
    outcome = row["outcome"]
    head = "  ·  ".join(
        text
        for text in (
            str(row["id"]),
            row["claim"],
            row["serial"],
            say(OUTCOMES[outcome]) if outcome in OUTCOMES else outcome,
            row["technician"],
            when(row["closed_at"])[:10] if row["closed_at"] else None,
        )
        if text
    )
    decision = (
        say(DECISIONS.get(row["decision"], row["decision"]))
        if row["decision"]
        else say("no decision yet")
    )
    words = [f"{decision}. {told(row['overall'])}"]
    if row["photos_reused"]:
        words.append(before_words(row["photos_reused"]))
    if row["conflict"]:
        words.append(say("Another package says it is of the same job."))
    return Row(row["id"], head, tuple(words), row["exit_status"] == 0)
