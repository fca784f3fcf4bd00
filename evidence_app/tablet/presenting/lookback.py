"""The timeline of a job: one plain line for each event, newest facts beside old ones."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from evidence_app.job.rules.route import items_of, photos_at, step_named
from evidence_app.language import say, say_many
from evidence_app.record.event import Event
from evidence_app.steplist.model import StepList
from evidence_app.tablet.presenting.from_below import told
from evidence_app.tablet.presenting.step import finding_words
from evidence_app.writing import bare, duration


class EntryLine(Struct, frozen=True):
    """``head``: number, time of day and step; ``words``: what happened."""

    sequence: int
    head: str
    words: str


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
    taken_back = {e.body["of"] for e in events if e.kind == "taken-back"}
    names = _names(step_list)
    return tuple(_line(step_list, names, event, event.sequence in taken_back) for event in events)


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
    event = events[sequence - 1]
    body = event.body
    more = [
        say("Correction in entry {number}: {text}", number=e.sequence, text=e.body["text"])
        for e in events
        if e.kind == "corrected" and e.body["of"] == sequence
    ]
    more.append(say("Clock: {wall}", wall=event.wall))
    photo = body.get("photo")
    if isinstance(photo, dict):
        photo = photo["sha256"]
        more.append(say("SHA-256 of the photo: {sha}", sha=photo))
    audio = body.get("audio")
    note = body.get("note") if event.kind in _SPOKEN else None
    transcript = None
    if event.kind == "note-recorded" and body["dropouts"]:
        more.append(
            say_many("The sound has {count} gap.", "The sound has {count} gaps.", body["dropouts"])
        )
    if note is not None:
        told, transcript = _transcript(events, note, event)
        more = told + more
        audio = next(
            (
                e.body["audio"]
                for e in events
                if e.kind == "note-recorded" and e.body["note"] == note
            ),
            None,
        )
    return Detail(
        _line(step_list, _names(step_list), event, False),
        tuple(more),
        photo,
        audio["sha256"] if isinstance(audio, dict) else None,
        note,
        transcript,
    )


_SPOKEN = ("note-recorded", "transcript-made", "transcript-corrected")


def _transcript(events: Sequence[Event], note: str, at: Event) -> tuple[list[str], str | None]:
    """What is told of a note's transcript beside entry ``at``, and its newest text."""
    of_it = [e for e in events if e.kind in _SPOKEN[1:] and e.body["note"] == note]
    if not of_it:
        return [say("There is no transcript of it.")], None
    made = next((e for e in of_it if e.kind == "transcript-made"), None)
    told = []
    for event in of_it:
        if event is at:
            continue
        if event is made:
            told.append(say("Transcript made by a machine: {text}", text=_text(event)))
        else:
            told.append(say("Transcript corrected: {text}", text=_text(event)))
    if made is not None:
        engine = made.body["engine"]
        told.append(
            say(
                "Made by a machine ({engine} {version}). The sound counts, not this text.",
                engine=engine["name"],
                version=engine["version"],
            )
        )
    return told, of_it[-1].body["text"]


def _text(event: Event) -> str:
    return event.body["text"] or say("no words were found")


def _names(step_list: StepList) -> dict[tuple, str]:
    """What the step list calls the things that entries point at, by kind of entry and id."""
    names = {("caution-acknowledged", None, c.id): c.hazard for c in step_list.cautions}
    names |= {("item-ticked", None, item.id): item.name for _, item in items_of(step_list)}
    for step in step_list.steps:
        names |= {("photo-taken", step.id, p.id): p.framing for p in photos_at(step)}
        names |= {("reading-entered", step.id, r.id): r.name for r in step.readings}
    for rule in step_list.stop_rules:
        names |= {("photo-taken", None, p.id): p.framing for p in rule.photos}
    return names


def _named(names: dict[tuple, str], event: Event, named: str) -> str:
    kind = event.kind
    return bare(names.get((kind, event.step, named)) or names.get((kind, None, named)) or named)


def _line(
    step_list: StepList, names: dict[tuple, str], event: Event, taken_back: bool
) -> EntryLine:
    step = step_named(step_list, event.step)
    head = f"{event.sequence}  ·  {event.wall[11:19]}"
    if step is not None:
        head += f"  ·  {bare(step.title)}"
    words = _words(names, event)
    return EntryLine(
        event.sequence, head, say("{words} (taken back)", words=words) if taken_back else words
    )


def _words(names: dict[tuple, str], event: Event) -> str:
    body = event.body
    for key in _NAMING:
        if isinstance(body.get(key), str):
            body = {**body, key: _named(names, event, body[key])}
    told = _TOLD.get(event.kind)
    return told(body) if told is not None else event.kind.replace("-", " ")


_NAMING = ("caution", "item", "wanted", "reading")
"""Of an entry's body: what names something of the step list."""

_TOLD = {
    "job-opened": lambda b: say("Job opened by {name}", name=b["technician"]),
    "ticket-opened": lambda b: say("Ticket of {depot} opened", depot=b["depot"]),
    "caution-acknowledged": lambda b: say("Caution read: {name}", name=b["caution"]),
    "item-ticked": lambda b: say("At hand: {name}", name=b["item"]),
    "step-entered": lambda b: {
        "first": say("The work begins"),
        "next": say("Went on to this step"),
        "back": say("Went back to look"),
        "redo": say("Done again from here"),
        "resumed": say("Taken up here"),
    }[b["reason"]],
    "photo-taken": lambda b: say("Photo taken: {name}", name=b["wanted"] or say("as a note")),
    "photo-judged": lambda b: say("The photo passes the checks")
    if b["passes"]
    else say("The photo does not pass the checks"),
    "photo-kept": lambda b: say("Photo kept: {reason}", reason=b["reason"]),
    "measured": lambda b: say("Measured: {sentence}", sentence=told(b["result"]["sentence"])),
    "hold-started": lambda b: say("Hold begun"),
    "hold-ended": lambda b: say("Held {time}: long enough", time=duration(b["held_s"]))
    if b["met"]
    else say("Held {time}: not met", time=duration(b["held_s"])),
    "hold-lost": lambda b: say("Hold lost: the tablet was restarted"),
    "reading-entered": lambda b: say(
        "{name}: {value}", name=b["reading"], value=f"{b['value']} {b['unit'] or ''}".strip()
    )
    + (" " + say("(outside its limits)") if b["within"] is False else ""),
    "finding-given": lambda b: say("Finding: {finding}", finding=finding_words(b["finding"])),
    "note-started": lambda b: say("Spoken note begun"),
    "note-recorded": lambda b: say("Spoken note, {time}", time=duration(b["seconds"]))
    + (" " + say("(cut short)") if b["cut_short"] else ""),
    "note-lost": lambda b: say("Spoken note without sound"),
    "note-written": lambda b: say("Note: {text}", text=b["text"]),
    "transcript-made": lambda b: say(
        "Transcript made by a machine: {text}", text=b["text"] or say("no words were found")
    ),
    "transcript-corrected": lambda b: say("Transcript corrected: {text}", text=b["text"]),
    "repair-stopped": lambda b: say("Repair stopped: {reason}", reason=b["reason"]),
    "name-given": lambda b: say("Name given: {name}", name=b["name"]),
    "corrected": lambda b: say(
        "Correction of entry {number}: {text}", number=b["of"], text=b["text"]
    ),
    "taken-back": lambda b: say("Entry {number} taken back", number=b["of"]),
    "device-lost": lambda b: say("{device} lost", device=_device(b["device"])),
    "device-returned": lambda b: say(
        "{device} back after {time}", device=_device(b["device"]), time=duration(b["away_s"])
    ),
    "clock-stepped": lambda b: say(
        "The tablet's clock was set by {seconds} s", seconds=f"{b['by_s']:+g}"
    ),
    "machine-restarted": lambda b: say("The tablet was restarted"),
    "record-recovered": lambda b: say("The record was put in order after an interruption"),
    "job-left": lambda b: say("Job put down"),
    "job-resumed": lambda b: say("Job taken up again"),
    "job-closed": lambda b: {
        "completed": say("Job closed: completed"),
        "stopped": say("Job closed: stopped"),
        "abandoned": say("Job closed: abandoned"),
    }[b["outcome"]],
}


def _device(device: str) -> str:
    return say("Camera") if device == "camera" else say("Microphone")
