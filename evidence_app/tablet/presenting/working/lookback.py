"""The timeline of a job: one plain line for each event, newest facts beside old ones."""

from collections.abc import Sequence

from msgspec import Struct

from evidence_app.job import vocabulary as v
from evidence_app.job.summary.event_sentences import EventSentences
from evidence_app.job.summary.journal import ReadJournal, TypedEvent
from evidence_app.language import say, say_many
from evidence_app.record.event import Event
from evidence_app.steplist.model import StepList
from evidence_app.writing import bare


class EntryLine(Struct, frozen=True):
    """``head``: number, time of day and step; ``words``: what happened. ``photo``: the SHA-256
    of the photo that was taken."""

    sequence: int
    head: str
    words: str
    photo: str | None = None


class Detail(Struct, frozen=True):
    """``photo`` and ``audio`` are SHA-256 of what can be opened or played."""

    line: EntryLine
    more: tuple[str, ...]
    photo: str | None
    audio: str | None
    note: str | None = None
    transcript: str | None = None


_SHOWN = ("photo-taken", "note-recorded", "note-written", "transcript-made", "transcript-corrected")


def lines(step_list: StepList, events: Sequence[Event]) -> tuple[EntryLine, ...]:
    journal, sentences = ReadJournal(events), EventSentences(step_list)
    return tuple(_line(sentences, typed, typed.taken_back) for typed in journal.entries)


def found(
    all_lines: Sequence[EntryLine], events: Sequence[Event], words: str, shown_only: bool
) -> tuple[EntryLine, ...]:
    """Those with every one of ``words`` in them, in any case; with ``shown_only`` photos,
    notes and their transcripts. A line and its event stand at the same place."""
    sought = words.casefold().split()
    return tuple(
        line
        for line, event in zip(all_lines, events, strict=True)
        if not (shown_only and event.kind not in _SHOWN)
        and all(word in f"{line.head} {line.words}".casefold() for word in sought)
    )


def detail(step_list: StepList, events: Sequence[Event], sequence: int) -> Detail:
    journal = ReadJournal(events)
    typed = journal.by_sequence[sequence]
    body = typed.body
    more = [
        say("Correction in entry {number}: {text}", number=each.sequence, text=each.body.text)
        for each in journal.all_of(v.Corrected)
        if each.body.of == sequence
    ]
    more.append(say("Clock: {wall}", wall=typed.wall))
    photo = getattr(body, "photo", None)
    if isinstance(photo, v.Ref):
        photo = photo.sha256
        more.append(say("SHA-256 of the photo: {sha}", sha=photo))
    if isinstance(body, v.NoteRecorded) and body.dropouts:
        more.append(say_many("The sound has {count} gap.", "The sound has {count} gaps.", body.dropouts))
    note = audio = transcript = None
    if isinstance(body, v.NoteRecorded | v.TranscriptMade | v.TranscriptCorrected):
        note = body.note
        told, transcript = _transcript(journal, note, typed)
        more = told + more
        recorded = (e.body for e in journal.all_of(v.NoteRecorded) if e.body.note == note)
        audio = next((each.audio.sha256 for each in recorded), None)
    line = _line(EventSentences(step_list), typed, False)
    return Detail(line, tuple(more), photo, audio, note, transcript)


def _transcript(journal: ReadJournal, note: str, at: TypedEvent) -> tuple[list[str], str | None]:
    """What is told of a note's transcript beside entry ``at``, and its newest text."""
    every = journal.all_of(v.TranscriptMade, v.TranscriptCorrected)
    of_it = [typed for typed in every if typed.body.note == note]
    if not of_it:
        return [say("There is no transcript of it.")], None
    told = []
    for typed in of_it:
        text = typed.body.text or say("no words were found")
        if typed is at:
            continue
        if isinstance(typed.body, v.TranscriptMade):
            told.append(say("Transcript made by a machine: {text}", text=text))
        else:
            told.append(say("Transcript corrected: {text}", text=text))
    engine = next((t.body.engine for t in of_it if isinstance(t.body, v.TranscriptMade)), None)
    if engine is not None:
        told.append(
            say(
                "Made by a machine ({engine} {version}). The sound counts, not this text.",
                engine=engine.name,
                version=engine.version,
            )
        )
    return told, of_it[-1].body.text


def _line(sentences: EventSentences, typed: TypedEvent, taken_back: bool) -> EntryLine:
    head = f"{typed.sequence}  ·  {typed.wall[11:19]}"
    if typed.step is not None:
        head += f"  ·  {bare(say(sentences.title(typed.step)))}"
    words = bare(say(sentences.said(typed)))
    if taken_back:
        words = say("{words} (taken back)", words=words)
    taken = typed.body.photo.sha256 if isinstance(typed.body, v.PhotoTaken) else None
    return EntryLine(typed.sequence, head, words, taken)
