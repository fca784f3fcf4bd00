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
    return NoteRecord(**entry.fields(), step=entry.step, taken_back=entry.sequence in journal.undone)


def _spoken(
    journal: ReadJournal,
    begun: TypedEvent,
    ended: TypedEvent | None,
    transcript: TypedEvent | None,
    corrected: TypedEvent | None,
) -> NoteRecord:
    sound = ended.fields() if ended and isinstance(ended.body, v.NoteRecorded) else {}
    lost = ended.body.reason if ended and isinstance(ended.body, v.NoteLost) else None
    told = sound | {
        "sequence": begun.sequence,
        "wall": begun.wall,
        "note": begun.body.note,
        "photo": sound.get("photo") or getattr(begun.body, "photo", None),
    }
    return NoteRecord(
        **told,
        step=begun.step,
        lost_reason=lost,
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
    return [NameRecord(**entry.fields()) for entry in journal.of(v.NameGiven)]
