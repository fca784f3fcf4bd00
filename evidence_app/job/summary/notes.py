"""Every note of a job, spoken and written."""

from collections.abc import Sequence

from evidence_app.job import vocabulary as v
from evidence_app.job.summary.journal import ReadJournal, TypedEvent, first_of, grouped, moment_of
from evidence_app.job.summary.model_step import NoteRecord, TranscriptRecord, carried

_BEGINNING = (v.NoteWritten, v.NoteStarted, v.NoteRecorded, v.NoteLost)


def notes(journal: ReadJournal) -> list[NoteRecord]:
    """Every note, spoken and written, in the order in which they were begun."""
    told = grouped(
        journal.all_of(*_BEGINNING, v.TranscriptMade, v.TranscriptCorrected),
        lambda entry: getattr(entry.body, "note", entry.sequence),
    )
    begun = ((first_of(said, *_BEGINNING), said) for said in told.values())
    found = (_note(first, said) for first, said in begun if first)
    return sorted(found, key=lambda note: note.sequence)


def _note(begun: TypedEvent, said: Sequence[TypedEvent]) -> NoteRecord:
    """A sound without a photo of its own belongs to the photo that its beginning names."""
    ended = first_of(said, v.NoteRecorded, v.NoteLost)
    note = begun.told(NoteRecord, transcript=_transcript(said))
    if ended is None:
        return note
    lost_reason = getattr(ended.body, "reason", None)
    photo = getattr(ended.body, "photo", None) or note.photo
    return carried(NoteRecord, note, ended.body, lost_reason=lost_reason, photo=photo)


def _transcript(said: Sequence[TypedEvent]) -> TranscriptRecord | None:
    made = first_of(reversed(said), v.TranscriptMade)
    corrected = first_of(reversed(said), v.TranscriptCorrected)
    first = made or corrected
    if first is None:
        return None
    return TranscriptRecord(
        sequence=first.sequence,
        text=made.body.text if made else "",
        engine=f"{made.body.engine.name} {made.body.engine.version}" if made else None,
        corrected=corrected.body.text if corrected else None,
        corrected_at=moment_of(corrected),
    )
