"""The rules on notes, transcripts, corrections, taking back and devices."""

import math

from evidence_app.devices.watch import DeviceLost
from evidence_app.job import commands as c
from evidence_app.job import vocabulary as v
from evidence_app.job.rules.entry import line, prose
from evidence_app.job.rules.situation import APP, Situation, Stored, draft
from evidence_app.job.state.facts import Note
from evidence_app.record.event import Draft
from evidence_app.sentence import sentence, sentences_beside

_WHY = sentences_beside(__file__)

RATE = 16_000
"""Samples a second of every spoken note."""

# --- notes -------------------------------------------------------------------------


def start_note(at: Situation, command: c.StartNote) -> list[Draft]:
    if at.state.open_note is not None:
        raise at.worded(_WHY["recording"])
    check_photo(at, command.photo)
    spoken = sum(note.heard != "written" for note in at.state.notes)
    return [at.draft(v.NoteStarted(f"note-{spoken + 1}", command.photo))]


def finish_note(at: Situation, command: c.FinishNote) -> list[Draft]:
    note = at.state.open_note
    if note is None or note.id != command.note:
        raise at.worded(_WHY["not-recording"], note=command.note)
    if at.stored is None:
        return []
    return [ended_note(note, command, at.stored)]


def ended_note(note: Note, command: c.FinishNote, stored: Stored, actor: str = "technician") -> Draft:
    """The event that ends a note: recorded, or lost when it has no sound."""
    audio = stored.refs.get("audio")
    if audio is None:
        return lost_note(note, "no sound was recorded")
    body = v.NoteRecorded(
        note=note.id,
        audio=audio,
        photo=note.photo,
        cut_short=command.cut_short,
        dropouts=command.dropouts,
        rate=RATE,
        **stored.facts,
    )
    return draft(body, note.step, actor)


def lost_note(note: Note, reason: str) -> Draft:
    return draft(v.NoteLost(note.id, reason), note.step, APP)


def write_note(at: Situation, command: c.WriteNote) -> list[Draft]:
    check_photo(at, command.photo)
    return [at.draft(v.NoteWritten(prose(command.text, sentence("the note")), command.photo))]


def add_transcript(at: Situation, command: c.AddTranscript) -> list[Draft]:
    note = _spoken(at, command.note)
    engine = v.SpeechEngine(
        line(command.engine, sentence("the engine")), line(command.version, sentence("its version"))
    )
    return [draft(v.TranscriptMade(note.id, command.text.strip(), engine), note.step, APP)]


def correct_transcript(at: Situation, command: c.CorrectTranscript) -> list[Draft]:
    note = _spoken(at, command.note)
    if note.transcript is None:
        raise at.worded(_WHY["no-transcript"])
    return [
        draft(v.TranscriptCorrected(note.id, prose(command.text, sentence("the transcript"))), note.step)
    ]


def _spoken(at: Situation, note_id: str) -> Note:
    note = at.state.note(note_id)
    if note is None or note.heard != "recorded":
        raise at.worded(_WHY["not-recorded"], note_id=note_id)
    return note


def check_photo(at: Situation, sha256: str | None) -> None:
    if sha256 is not None:
        at.photo(sha256)


# --- corrections, taking back, devices -------------------------------------------------


def correct(at: Situation, command: c.Correct) -> list[Draft]:
    if not 1 <= command.of <= at.state.sequence:
        raise at.worded(_WHY["no-event"], of=command.of, sequence=at.state.sequence)
    return [at.draft(v.Corrected(command.of, prose(command.text, sentence("the correction"))))]


def take_back(at: Situation, command: c.TakeBack) -> list[Draft]:
    if at.state.can_take_back(at.now) != command.of:
        raise at.worded(_WHY["too-late"], number=command.of)
    return [at.draft(v.TakenBack(command.of))]


def report_device(at: Situation, command: c.ReportDevice) -> list[Draft]:
    news = command.news
    name = line(news.name, sentence("the unit's name"))
    if isinstance(news, DeviceLost):
        return [at.draft(v.SourceLost(news.device, name, str(news.message)), APP)]
    if not math.isfinite(news.away_s) or news.away_s < 0:
        raise at.worded(_WHY["no-time"])
    return [at.draft(v.SourceReturned(news.device, name, news.away_s), APP)]
