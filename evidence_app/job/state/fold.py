"""Folding events into the state of a job, and taking one back.

``apply(state, event)`` gives the state after one more event; folding a journal
from ``JobState()`` gives where its job stands. No step list, clock or file is
needed for it. Nothing is erased by taking back: the state is folded again
without the event that was taken back, which stays in the journal.
"""

from collections.abc import Callable, Iterable
from typing import Any

import msgspec
from msgspec.structs import replace

from evidence_app.errors import RecordError
from evidence_app.job import vocabulary as v
from evidence_app.job.state.facts import (
    EndedHold,
    GivenFinding,
    Name,
    Note,
    Photo,
    Reading,
    RunningHold,
    Stop,
)
from evidence_app.job.state.job_state import BESIDE, TAKEABLE, JobState, Undo
from evidence_app.record.event import Event
from evidence_app.sentence import sentence


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
            where=f"event {event.sequence}",
            remedy=sentence("open the job with the version of the app that recorded it"),
        ) from None
    if event.kind == "taken-back":
        return _take_back(state, event)
    after = replace(_FOLDS.get(event.kind, _unchanged)(state, event, body), sequence=event.sequence)
    return replace(after, undo=_undo_after(state, event))


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


def _unchanged(state: JobState, event: Event, body: v.Body) -> JobState:
    return state


def _opened(state: JobState, event: Event, body: v.JobOpened) -> JobState:
    return replace(state, phase="preparing", opened=body)


def _ticket(state: JobState, event: Event, body: v.TicketOpened) -> JobState:
    return replace(state, ticket=body)


def _caution(state: JobState, event: Event, body: v.CautionAcknowledged) -> JobState:
    return replace(state, cautions=state.cautions | {body.caution})


def _ticked(state: JobState, event: Event, body: v.ItemTicked) -> JobState:
    return replace(state, ticked=state.ticked | {(body.list, body.item)})


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
    photo = Photo(event.sequence, body.photo.sha256, event.step, body.wanted, body.purpose, body.retake_of)
    return replace(state, photos=(*state.photos, photo))


def _change_photo(state: JobState, sha256: str, **changes: Any) -> JobState:
    photos = tuple(replace(p, **changes) if p.sha256 == sha256 else p for p in state.photos)
    return replace(state, photos=photos)


def _judged(state: JobState, event: Event, body: v.PhotoJudged) -> JobState:
    return _change_photo(state, body.photo, passes=body.passes, judged=body)


def _kept(state: JobState, event: Event, body: v.PhotoKept) -> JobState:
    return _change_photo(state, body.photo, kept=body.reason)


def _card(state: JobState, event: Event, body: v.ScaleCardNamed) -> JobState:
    return replace(state, card=body)


def _measured(state: JobState, event: Event, body: v.Measured) -> JobState:
    return _change_photo(state, body.photo, measured=body)


def _hold_started(state: JobState, event: Event, body: v.HoldStarted) -> JobState:
    hold = RunningHold(event.sequence, event.step, body.at_least_s, event.mono_us, event.boot)
    return replace(state, hold=hold)


def _hold_ended(state: JobState, event: Event, body: v.HoldEnded) -> JobState:
    ended = EndedHold(event.sequence, event.step, body.held_s, body.met)
    return replace(state, hold=None, holds=(*state.holds, ended))


def _hold_lost(state: JobState, event: Event, body: v.HoldLost) -> JobState:
    ended = EndedHold(event.sequence, event.step, None, False)
    return replace(state, hold=None, holds=(*state.holds, ended))


def _restarted(state: JobState, event: Event, body: v.MachineRestarted) -> JobState:
    """A restart is also a monotonic clock that ran backwards on the same boot."""
    hold = replace(state.hold, boot=None) if state.hold else None
    return replace(state, hold=hold)


def _reading(state: JobState, event: Event, body: v.ReadingEntered) -> JobState:
    reading = Reading(event.sequence, event.step, body.reading, body.value, body.unit, body.within)
    return replace(state, readings=(*state.readings, reading))


def _finding(state: JobState, event: Event, body: v.FindingGiven) -> JobState:
    given = GivenFinding(event.sequence, event.step, body.finding, body.leads_to)
    pending = given if body.leads_to.action != "go-on" else None
    return replace(state, findings=(*state.findings, given), pending=pending)


def _note_started(state: JobState, event: Event, body: v.NoteStarted) -> JobState:
    note = Note(body.note, event.sequence, event.step, body.photo, "recording")
    return replace(state, notes=(*state.notes, note))


def _change_note(state: JobState, note: str, **changes: Any) -> JobState:
    notes = tuple(replace(n, **changes) if n.id == note else n for n in state.notes)
    return replace(state, notes=notes)


def _note_recorded(state: JobState, event: Event, body: v.NoteRecorded) -> JobState:
    return _change_note(
        state, body.note, heard="recorded", audio=body.audio, seconds=body.seconds,
        cut_short=body.cut_short,
    )  # fmt: skip


def _note_lost(state: JobState, event: Event, body: v.NoteLost) -> JobState:
    return _change_note(state, body.note, heard="lost")


def _note_written(state: JobState, event: Event, body: v.NoteWritten) -> JobState:
    note = Note(
        f"written-{event.sequence}", event.sequence, event.step, body.photo, "written",
        text=body.text, no_microphone="microphone" in state.lost_devices,
    )  # fmt: skip
    return replace(state, notes=(*state.notes, note))


def _transcript(state: JobState, event: Event, body: Any) -> JobState:
    return _change_note(state, body.note, transcript=body.text)


def _stopped(state: JobState, event: Event, body: v.RepairStopped) -> JobState:
    stop = Stop(
        event.sequence, event.step, body.rule, body.by, body.reason, body.disposition,
        body.prohibitions,
    )  # fmt: skip
    return replace(state, phase="stopped", stop=stop, hold=None, pending=None)


def _named(state: JobState, event: Event, body: v.NameGiven) -> JobState:
    return replace(state, names=(*state.names, Name(event.sequence, body.role, body.name)))


def _device_lost(state: JobState, event: Event, body: v.SourceLost) -> JobState:
    return replace(state, lost_devices=state.lost_devices | {body.device})


def _device_back(state: JobState, event: Event, body: v.SourceReturned) -> JobState:
    return replace(state, lost_devices=state.lost_devices - {body.device})


def _left(state: JobState, event: Event, body: v.JobLeft) -> JobState:
    return replace(state, left=True)


def _resumed(state: JobState, event: Event, body: v.JobResumed) -> JobState:
    return replace(state, left=False, lost_devices=frozenset())  # devices are opened anew


def _closed(state: JobState, event: Event, body: v.JobClosed) -> JobState:
    return replace(state, phase="closed", outcome=body.outcome, hold=None)


_FOLDS: dict[str, Callable[[JobState, Event, Any], JobState]] = {
    "job-opened": _opened,
    "ticket-opened": _ticket,
    "caution-acknowledged": _caution,
    "item-ticked": _ticked,
    "step-entered": _entered,
    "photo-taken": _photo,
    "photo-judged": _judged,
    "photo-kept": _kept,
    "scale-card-named": _card,
    "measured": _measured,
    "hold-started": _hold_started,
    "hold-ended": _hold_ended,
    "hold-lost": _hold_lost,
    "machine-restarted": _restarted,
    "reading-entered": _reading,
    "finding-given": _finding,
    "note-started": _note_started,
    "note-recorded": _note_recorded,
    "note-lost": _note_lost,
    "note-written": _note_written,
    "transcript-made": _transcript,
    "transcript-corrected": _transcript,
    "repair-stopped": _stopped,
    "name-given": _named,
    "device-lost": _device_lost,
    "device-returned": _device_back,
    "job-left": _left,
    "job-resumed": _resumed,
    "job-closed": _closed,
}
