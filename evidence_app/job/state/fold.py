"""Folding events into the state of a job, and taking one back.

``apply(state, event)`` gives the state after one more event; folding a journal
from ``JobState()`` gives where its job stands. No step list, clock or file is
needed for it. Nothing is erased by taking back: the state is folded again
without the event that was taken back, which stays in the journal.
"""

from collections.abc import Callable, Iterable
from typing import Any, TypeVar

import msgspec
from msgspec.structs import asdict, replace

from evidence_app.errors import RecordError
from evidence_app.job import vocabulary as v
from evidence_app.job.state import facts
from evidence_app.job.state.job_state import BESIDE, TAKEABLE, JobState, Undo
from evidence_app.record.event import Event
from evidence_app.sentence import sentence

G = TypeVar("G", bound=v.Body)


def fold(events: Iterable[Event]) -> JobState:
    """The state after ``events``, from the beginning. Raises RecordError as ``apply``."""
    state = JobState()
    for event in events:
        state = apply(state, event)
    return state


def apply(state: JobState, event: Event) -> JobState:
    """The state after one more event.

    Raises RecordError when the event is of a kind, or has a body, that this
    version does not know.
    """
    try:
        body = v.read_body(event.kind, event.body)
    except (KeyError, msgspec.ValidationError) as problem:
        raise RecordError(
            sentence("the event “{kind}” cannot be read ({problem})", kind=event.kind, problem=problem),
            where=sentence("event {number}", number=event.sequence),
            remedy=sentence("open the job with the version of the app that recorded it"),
        ) from None
    if event.kind == "taken-back":
        return _take_back(state, event)
    after = replace(_folded(state, event, body), sequence=event.sequence)
    return replace(after, undo=_undo_after(state, event))


def _folded(state: JobState, event: Event, body: Any) -> JobState:
    """Kinds of which nothing stays in the state change nothing; most set one thing of it."""
    if event.kind in _SETS:
        return replace(state, **_SETS[event.kind](state, body))
    fold_of = _FOLDS.get(event.kind)
    return fold_of(state, event, body) if fold_of else state


def _undo_after(state: JobState, event: Event) -> Undo | None:
    if state.pending is not None and event.kind == "step-entered":
        return state.undo  # the redo goes with its finding when that is taken back
    if event.kind in TAKEABLE:
        return Undo(event.sequence, event.mono_us, event.boot, replace(state, undo=None))
    if event.kind in BESIDE and state.undo is not None:
        return replace(state.undo, since=(*state.undo.since, event))
    return None


def _take_back(state: JobState, event: Event) -> JobState:
    undo = state.undo
    if undo is None or event.body["of"] != undo.sequence:
        return replace(state, sequence=event.sequence)
    without = undo.before
    for other in undo.since:
        without = apply(without, other)
    return replace(
        without, sequence=event.sequence, taken_back=without.taken_back | {undo.sequence}, undo=None
    )


def _entered(state: JobState, event: Event, body: v.StepEntered) -> JobState:
    step = event.step
    if step is None:
        return state
    visited = state.visited if step in state.visited else (*state.visited, step)
    void = state.void_before
    if body.reason == "redo":
        again = visited[visited.index(step) :]
        void = void | dict.fromkeys(again, event.sequence)
    return replace(
        state, phase="working", step=step, visited=visited, void_before=void, pending=None, hold=None
    )


def _photo(state: JobState, event: Event, body: v.PhotoTaken) -> JobState:
    photo = facts.Photo(
        event.sequence, body.photo.sha256, event.step, body.wanted, body.purpose, body.retake_of
    )
    return replace(state, photos=(*state.photos, photo))


def _hold_started(state: JobState, event: Event, body: v.HoldStarted) -> JobState:
    hold = facts.RunningHold(event.sequence, event.step, body.at_least_s, event.mono_us, event.boot)
    return replace(state, hold=hold)


def _hold_over(state: JobState, event: Event, body: v.HoldEnded | v.HoldLost) -> JobState:
    held, met = (body.held_s, body.met) if isinstance(body, v.HoldEnded) else (None, False)
    ended = facts.EndedHold(event.sequence, event.step, held, met)
    return replace(state, hold=None, holds=(*state.holds, ended))


def _restarted(state: JobState, event: Event, body: v.MachineRestarted) -> JobState:
    """A restart is also a monotonic clock that ran backwards on the same boot."""
    hold = replace(state.hold, boot=None) if state.hold else None
    return replace(state, hold=hold)


def _fact(fact: type[G], event: Event, body: v.Body) -> G:
    """``fact`` has the fields of the body, and the event's sequence and step."""
    return fact(**asdict(body), sequence=event.sequence, step=event.step)


def _added(to: str, fact: type[v.Body]) -> Callable[[JobState, Event, Any], JobState]:
    """What adds a fact of the event to those of its kind."""

    def add(state: JobState, event: Event, body: v.Body) -> JobState:
        return replace(state, **{to: (*getattr(state, to), _fact(fact, event, body))})

    return add


def _finding(state: JobState, event: Event, body: v.FindingGiven) -> JobState:
    given = _fact(facts.GivenFinding, event, body)
    pending = given if body.leads_to.action != "go-on" else None
    return replace(state, findings=(*state.findings, given), pending=pending)


def _note_started(state: JobState, event: Event, body: v.NoteStarted) -> JobState:
    note = facts.Note(body.note, event.sequence, event.step, body.photo, "recording")
    return replace(state, notes=(*state.notes, note))


def _note_written(state: JobState, event: Event, body: v.NoteWritten) -> JobState:
    note = facts.Note(
        f"written-{event.sequence}", event.sequence, event.step, body.photo, "written",
        text=body.text, no_microphone="microphone" in state.lost_devices,
    )  # fmt: skip
    return replace(state, notes=(*state.notes, note))


def _stopped(state: JobState, event: Event, body: v.RepairStopped) -> JobState:
    return replace(state, phase="stopped", stop=_fact(facts.Stop, event, body), hold=None, pending=None)


def _change_of_photo(state: JobState, body: Any, **changes: Any) -> dict[str, Any]:
    photos = tuple(replace(p, **changes) if p.sha256 == body.photo else p for p in state.photos)
    return {"photos": photos}


def _change_of_note(state: JobState, body: Any, **changes: Any) -> dict[str, Any]:
    return {"notes": tuple(replace(n, **changes) if n.id == body.note else n for n in state.notes)}


_FOLDS: dict[str, Callable[[JobState, Event, Any], JobState]] = {
    "step-entered": _entered,
    "photo-taken": _photo,
    "hold-started": _hold_started,
    "hold-ended": _hold_over,
    "hold-lost": _hold_over,
    "machine-restarted": _restarted,
    "reading-entered": _added("readings", facts.ReadingGiven),
    "pieces-counted": _added("counts", facts.CountGiven),
    "finding-given": _finding,
    "note-started": _note_started,
    "note-written": _note_written,
    "repair-stopped": _stopped,
    "name-given": _added("names", facts.Name),
}
_SETS: dict[str, Callable[[JobState, Any], dict[str, Any]]] = {
    "job-opened": lambda state, body: {"phase": "preparing", "opened": body},
    "ticket-opened": lambda state, body: {"ticket": body},
    "caution-acknowledged": lambda state, body: {"cautions": state.cautions | {body.caution}},
    "item-ticked": lambda state, body: {"ticked": state.ticked | {(body.list, body.item)}},
    "photo-judged": lambda state, body: _change_of_photo(state, body, passes=body.passes, judged=body),
    "photo-kept": lambda state, body: _change_of_photo(state, body, kept=body.reason),
    "scale-card-named": lambda state, body: {"card": body},
    "measured": lambda state, body: _change_of_photo(state, body, measured=body),
    "note-recorded": lambda state, body: _change_of_note(
        state, body, heard="recorded", audio=body.audio, seconds=body.seconds, cut_short=body.cut_short
    ),
    "note-lost": lambda state, body: _change_of_note(state, body, heard="lost"),
    "transcript-made": lambda state, body: _change_of_note(state, body, transcript=body.text),
    "transcript-corrected": lambda state, body: _change_of_note(state, body, transcript=body.text),
    "device-lost": lambda state, body: {"lost_devices": state.lost_devices | {body.device}},
    "device-returned": lambda state, body: {"lost_devices": state.lost_devices - {body.device}},
    "job-left": lambda state, body: {"left": True},
    # Devices are opened anew.
    "job-resumed": lambda state, body: {"left": False, "lost_devices": frozenset()},
    "job-closed": lambda state, body: {"phase": "closed", "outcome": body.outcome, "hold": None},
}
