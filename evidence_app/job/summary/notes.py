"""Every note of a job, spoken and written, and the names that were given."""

from evidence_app.job import vocabulary as v
from evidence_app.job.summary.journal import ReadJournal, TypedEvent
from evidence_app.job.summary.model_step import NameRecord, NoteRecord, TranscriptRecord


def notes(journal: ReadJournal) -> list[NoteRecord]:
    """Every note, spoken and written, in the order in which they were begun."""
    begun: dict[str | int, TypedEvent] = {}
    ended: dict[str | int, TypedEvent] = {}
    transcripts: dict[str | int, TypedEvent] = {}
    corrected: dict[str | int, TypedEvent] = {}
    for entry in journal.all_of(
        v.NoteStarted, v.NoteRecorded, v.NoteLost, v.NoteWritten, v.TranscriptMade,
        v.TranscriptCorrected,
    ):  # fmt: skip
        match entry.body:
            case v.NoteWritten():
                begun[entry.sequence] = entry
            case v.TranscriptMade():
                transcripts[entry.body.note] = entry
            case v.TranscriptCorrected():
                corrected[entry.body.note] = entry
            case _:
                begun.setdefault(entry.body.note, entry)
                if not isinstance(entry.body, v.NoteStarted):
                    ended.setdefault(entry.body.note, entry)
    return [
        _written(journal, entry)
        if isinstance(entry.body, v.NoteWritten)
        else _spoken(journal, entry, ended.get(key), transcripts.get(key), corrected.get(key))
        for key, entry in begun.items()
    ]


def _written(journal: ReadJournal, entry: TypedEvent) -> NoteRecord:
    return NoteRecord(
        sequence=entry.sequence,
        wall=entry.wall,
        step=entry.step,
        note=None,
        photo=entry.body.photo,
        audio=None,
        lost_reason=None,
        seconds=None,
        rate=None,
        dropouts=None,
        cut_short=None,
        text=entry.body.text,
        transcript=None,
        taken_back=entry.sequence in journal.undone,
    )


def _spoken(
    journal: ReadJournal,
    begun: TypedEvent,
    ended: TypedEvent | None,
    transcript: TypedEvent | None,
    corrected: TypedEvent | None,
) -> NoteRecord:
    sound = ended.body if ended and isinstance(ended.body, v.NoteRecorded) else None
    lost = ended.body if ended and isinstance(ended.body, v.NoteLost) else None
    return NoteRecord(
        sequence=begun.sequence,
        wall=begun.wall,
        step=begun.step,
        note=begun.body.note,
        photo=(sound and sound.photo) or getattr(begun.body, "photo", None),
        audio=sound.audio if sound else None,
        lost_reason=lost.reason if lost else None,
        seconds=sound.seconds if sound else None,
        rate=sound.rate if sound else None,
        dropouts=sound.dropouts if sound else None,
        cut_short=sound.cut_short if sound else None,
        text=None,
        transcript=_transcript(transcript, corrected),
        taken_back=begun.sequence in journal.undone,
    )


def _transcript(made: TypedEvent | None, corrected: TypedEvent | None) -> TranscriptRecord | None:
    first = made or corrected
    if first is None:
        return None
    return TranscriptRecord(
        sequence=first.sequence,
        text=made.body.text if made else "",
        engine=f"{made.body.engine.name} {made.body.engine.version}" if made else None,
        corrected=corrected.body.text if corrected else None,
        corrected_at=corrected.moment if corrected else None,
    )


def names(journal: ReadJournal) -> list[NameRecord]:
    return [
        NameRecord(sequence=entry.sequence, wall=entry.wall, role=entry.body.role, name=entry.body.name)
        for entry in journal.of(v.NameGiven)
    ]
