"""Events that a summary cannot place, and why: nothing in a journal is passed over."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from evidence_app.job import vocabulary
from evidence_app.job.summary.model import Unplaced
from evidence_app.job.summary.trail import Trail
from evidence_app.job.summary.untrusted import original, table, text, whole
from evidence_app.record.event import Event

_ONCE = ("job-opened", "repair-stopped", "ticket-opened")
_OF_PHOTO = ("photo-judged", "photo-kept", "measured")


def unplaced(trail: Trail, known_steps: set[str]) -> tuple[Unplaced, ...]:
    """Events of an unknown kind or form, or that answer to nothing before them."""
    seen: set[str] = set()
    photos: set[str] = set()
    notes: set[str] = set()
    holding: set[str | None] = set()
    found = []
    for event in trail.events:
        for sentence in _oddities(event, trail, known_steps, seen, photos, notes, holding):
            found.append(
                Unplaced(
                    sequence=event.sequence,
                    wall=event.wall,
                    kind=event.kind,
                    step=event.step,
                    sentence=sentence,
                )
            )
        _remember(event, seen, photos, notes, holding)
    return tuple(found)


def _oddities(
    event: Event,
    trail: Trail,
    known_steps: set[str],
    seen: set[str],
    photos: set[str],
    notes: set[str],
    holding: set[str | None],
) -> Iterator[str]:
    kind = event.kind
    if kind not in vocabulary.BODIES:
        yield "Its kind is unknown to this version."
    elif not _has_form(event):
        yield "Its content does not have the form of its kind."
    if event.step is not None and event.step not in known_steps:
        yield "It names a step that is not in the step list."
    if kind in _ONCE and kind in seen:
        yield "An event of this kind came before; the first one counts."
    if kind == "job-closed" and event is not trail.events[-1]:
        yield "The journal goes on after this closing."
    if kind in _OF_PHOTO and text(event.body, "photo") not in photos:
        yield "It is about a photo that was not taken before it."
    if kind.startswith("transcript-") and text(event.body, "note") not in notes:
        yield "It is about a note that was not made before it."
    if kind == "hold-ended" and event.step not in holding:
        yield "No hold was begun at its step."
    if kind == "taken-back" and not _took_something_back(event, trail):
        yield "It takes nothing back: its event could not be taken back then."


def _remember(
    event: Event,
    seen: set[str],
    photos: set[str],
    notes: set[str],
    holding: set[str | None],
) -> None:
    seen.add(event.kind)
    match event.kind:
        case "photo-taken":
            photos.add(text(table(event.body, "photo"), "sha256") or "")
        case "note-started" | "note-recorded":
            notes.add(text(event.body, "note") or "")
        case "hold-started":
            holding.add(event.step)


def _has_form(event: Event) -> bool:
    try:
        vocabulary.read_body(event.kind, event.body)
    except (msgspec.ValidationError, RecursionError):
        return False
    return event.kind != "photo-taken" or original(event.body, "photo") is not None


def _took_something_back(event: Event, trail: Trail) -> bool:
    return whole(event.body, "of") in trail.undone
