"""The conduct check on notes, transcripts, corrections, devices and interruptions."""

from evidence_app.job import vocabulary as v
from evidence_app.job.conduct.walk import Handlers, NoteSeen, Walk
from evidence_app.record.event import Event

_RATE = 16_000


def _started(walk: Walk, event: Event, body: v.NoteStarted) -> None:
    walk.must_be_here(event)
    _photo_is_known(walk, event, body.photo)
    if body.note in walk.notes:
        walk.breach(event, "starts the note {note} a second time", note=body.note)
        return
    if any(note.state == "recording" for note in walk.notes.values()):
        walk.breach(event, "starts a note while another is being recorded")
    walk.notes[body.note] = NoteSeen(event.sequence, event.step, body.photo)


def _recorded(walk: Walk, event: Event, body: v.NoteRecorded) -> None:
    note = _note(walk, event, body.note)
    if note is None:
        return
    if note.state == "recorded":
        walk.breach(event, "records the note {note} a second time", note=body.note)
    if body.photo != note.photo:
        walk.breach(event, "binds the note to another photo than when it was started")
    if body.rate != _RATE:
        walk.breach(
            event, "is at {rate} samples a second; notes are at {asked}", rate=body.rate, asked=_RATE
        )
    note.state = "recorded"
    if walk.stop is not None and note.sequence > walk.stopped_at:
        walk.reason_told = True


def _lost(walk: Walk, event: Event, body: v.NoteLost) -> None:
    note = _note(walk, event, body.note)
    if note is None:
        return
    if note.state != "recording":
        walk.breach(event, "loses the note {note}, which was not being recorded", note=body.note)
    note.state = "lost"


def _written(walk: Walk, event: Event, body: v.NoteWritten) -> None:
    walk.must_be_here(event)
    _photo_is_known(walk, event, body.photo)
    if walk.stop is not None and "microphone" in walk.lost:
        walk.reason_told = True


def _transcript(walk: Walk, event: Event, body: v.TranscriptMade) -> None:
    note = _note(walk, event, body.note)
    if note is None:
        return
    if note.state != "recorded":
        walk.breach(event, "is of the note {note}, of which no sound is recorded", note=body.note)
    note.transcribed = True


def _transcript_corrected(walk: Walk, event: Event, body: v.TranscriptCorrected) -> None:
    note = _note(walk, event, body.note)
    if note is not None and not note.transcribed:
        walk.breach(event, "corrects a transcript of the note {note}, which has none", note=body.note)


def _note(walk: Walk, event: Event, name: str) -> NoteSeen | None:
    note = walk.notes.get(name)
    if note is None:
        walk.breach(event, "names the note {name}, which was not started before it", name=name)
    elif note.step != event.step:
        walk.breach(event, "is recorded at another step than its note, {step}", step=note.step)
    return note


def _photo_is_known(walk: Walk, event: Event, sha256: str | None) -> None:
    if sha256 is not None and sha256 not in walk.photos:
        walk.breach(
            event, "is bound to the photo {photo}, which was not taken before it", photo=sha256[:12]
        )


def _corrected(walk: Walk, event: Event, body: v.Corrected) -> None:
    if body.of >= event.sequence:
        walk.breach(event, "corrects event {number}, which is not before it", number=body.of)


def _left(walk: Walk, event: Event, body: v.JobLeft) -> None:
    walk.left = True


def _resumed(walk: Walk, event: Event, body: v.JobResumed) -> None:
    walk.must_be_here(event)
    walk.left = False
    walk.lost.clear()


TOLD: Handlers = {
    "note-started": _started,
    "note-recorded": _recorded,
    "note-lost": _lost,
    "note-written": _written,
    "transcript-made": _transcript,
    "transcript-corrected": _transcript_corrected,
    "corrected": _corrected,
    "device-lost": lambda walk, event, body: walk.lost.add(body.device),
    "device-returned": lambda walk, event, body: walk.lost.discard(body.device),
    "job-left": _left,
    "job-resumed": _resumed,
}
