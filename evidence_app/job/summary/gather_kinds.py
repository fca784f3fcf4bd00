"""What was shown in a job, kind by kind, from its prepared journal.

Every take, try and entry is listed; ``counts`` marks the one that answers for
what was owed: the newest that stands, and for photos and holds only when it
passed, was kept with a reason, or was held long enough.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from evidence_app.job.summary.evidence import (
    FindingShown,
    GateCheck,
    HoldAttempt,
    MeasurementShown,
    NameShown,
    NoteShown,
    PhotoShown,
    ReadingEntry,
    TranscriptShown,
)
from evidence_app.job.summary.trail import Trail
from evidence_app.job.summary.untrusted import (
    flag,
    moment,
    mono_s,
    number,
    original,
    rows,
    shallow,
    table,
    text,
    texts,
    whole,
)
from evidence_app.record.event import Event
from evidence_app.steplist.model import Hold, PhotoWanted, Reading

_RESULT_FIELDS = {"kind", "unit", "value", "U", "conformity", "method", "sentence"}


# --- photos --------------------------------------------------------------------


def photos(trail: Trail, framings: dict[str, PhotoWanted]) -> list[PhotoShown]:
    """Every take, in order. ``framings`` are the photos asked for, by id."""
    judged, kept, measured = _said_of_photos(trail)
    takes = [e for e in trail.all_of("photo-taken") if original(e.body, "photo")]
    newest = {_view(trail, e): e.sequence for e in takes if not trail.is_void(e)}
    shown = []
    for event in takes:
        judgement = judged.get(event.sequence)
        passes = flag(judgement.body, "passes") if judgement else None
        reason = kept.get(event.sequence)
        wanted = text(event.body, "wanted")
        asked = framings.get(wanted or "")
        is_newest = newest.get(_view(trail, event)) == event.sequence
        source = table(event.body, "source")
        shown.append(
            PhotoShown(
                sequence=event.sequence,
                wall=event.wall,
                step=event.step,
                original=original(event.body, "photo"),
                wanted=wanted,
                framing=asked.framing if asked else None,
                purpose=text(event.body, "purpose"),
                width=whole(event.body, "width"),
                height=whole(event.body, "height"),
                source_kind=text(source, "kind"),
                source_name=text(source, "name"),
                retake_of=text(event.body, "retake_of"),
                round=trail.round_of(event),
                passes=passes,
                checks=tuple(_check(row) for row in rows(judgement.body, "checks"))
                if judgement
                else (),
                kept_reason=reason,
                measurements=tuple(measured.get(event.sequence, ())),
                counts=wanted is not None and is_newest and (passes is True or reason is not None),
                superseded=trail.is_void(event) or (wanted is not None and not is_newest),
                taken_back=event.sequence in trail.undone,
            )
        )
    return shown


def _view(trail: Trail, event: Event) -> tuple[bool, str | None, str | int]:
    """What a take is a take of; a photo that nobody asked for is its own view."""
    wanted = text(event.body, "wanted") or event.sequence
    return (True, None, wanted) if trail.after_stop(event) else (False, event.step, wanted)


def _said_of_photos(
    trail: Trail,
) -> tuple[dict[int, Event], dict[int, str], dict[int, list[MeasurementShown]]]:
    """Judgements, kept reasons and measurements by the sequence of the take they are about:
    the latest take of those bytes before them."""
    latest: dict[str, int] = {}
    judged: dict[int, Event] = {}
    kept: dict[int, str] = {}
    measured: dict[int, list[MeasurementShown]] = {}
    for event in trail.of("photo-taken", "photo-judged", "photo-kept", "measured"):
        if event.kind == "photo-taken":
            taken = original(event.body, "photo")
            if taken:
                latest[taken.sha256] = event.sequence
            continue
        take = latest.get(text(event.body, "photo") or "")
        if take is None:
            continue
        if event.kind == "photo-judged":
            judged[take] = event
        elif event.kind == "photo-kept":
            kept[take] = text(event.body, "reason") or ""
        else:
            measured.setdefault(take, []).append(_measurement(event))
    return judged, kept, measured


def _check(row: object) -> GateCheck:
    value, limit = number(row, "value"), number(row, "limit")
    return GateCheck(
        name=text(row, "name") or "",
        value=text(row, "value") if value is None else value,
        limit=text(row, "limit") if limit is None else limit,
        unit=text(row, "unit"),
        holds=flag(row, "holds"),
        sentence=text(row, "sentence"),
    )


def _measurement(event: Event) -> MeasurementShown:
    result = table(event.body, "result")
    return MeasurementShown(
        sequence=event.sequence,
        wall=event.wall,
        wanted=text(event.body, "wanted"),
        kind=text(result, "kind"),
        unit=text(result, "unit"),
        value=number(result, "value"),
        U=number(result, "U"),
        conformity=text(result, "conformity"),
        method=text(result, "method"),
        sentence=text(result, "sentence"),
        markup=original(event.body, "markup"),
        more={k: shallow(v) for k, v in result.items() if k not in _RESULT_FIELDS},
    )


# --- holds ---------------------------------------------------------------------


def holds(trail: Trail, asked: dict[str, Hold]) -> dict[str, list[HoldAttempt]]:
    """Every try at a hold, by step. ``asked`` are the step list's holds, by step.

    The time held is recomputed from ``mono_us``; what the event says of itself
    stands beside it. A try without an asked hold is measured against its own
    ``at_least_s``.
    """
    tries: dict[str, list[tuple[Event, Event | None]]] = {}
    running: dict[str, int] = {}
    for event in trail.all_of("hold-started", "hold-ended", "hold-lost"):
        step = event.step or ""
        here = tries.setdefault(step, [])
        if event.kind == "hold-started":
            here.append((event, None))
            if event.sequence not in trail.undone:
                running[step] = len(here) - 1
        elif event.sequence not in trail.undone and step in running:
            at = running.pop(step)
            here[at] = (here[at][0], event)
    return {step: _attempts(trail, here, asked.get(step)) for step, here in tries.items()}


def _attempts(
    trail: Trail, tries: list[tuple[Event, Event | None]], asked: Hold | None
) -> list[HoldAttempt]:
    standing = [s.sequence for s, _ in tries if s.sequence not in trail.undone]
    newest = standing[-1] if standing else None
    shown = []
    for start, end in tries:
        ended = end is not None and end.kind == "hold-ended"
        held = mono_s(start, end) if ended else None
        met = _held_long_enough(held, start, asked)
        shown.append(
            HoldAttempt(
                started=start.sequence,
                wall=start.wall,
                ended=end.sequence if end else None,
                round=trail.round_of(start),
                held_s=held,
                recorded_s=number(end.body, "held_s") if ended else None,
                met=met,
                recorded_met=flag(end.body, "met") if ended else None,
                lost_reason=text(end.body, "reason") if end and not ended else None,
                counts=met and start.sequence == newest and not trail.is_void(start),
                taken_back=start.sequence in trail.undone,
            )
        )
    return shown


def _held_long_enough(held: float | None, start: Event, asked: Hold | None) -> bool:
    at_least = asked.at_least_s if asked else number(start.body, "at_least_s")
    if held is None or at_least is None or held < at_least:
        return False
    return asked is None or asked.at_most_s is None or held <= asked.at_most_s


# --- readings and findings -------------------------------------------------------


def readings(
    trail: Trail, asked: dict[tuple[str, str], Reading]
) -> dict[tuple[str, str], list[ReadingEntry]]:
    """Every value entered, by step and reading. ``asked`` are the step list's readings."""
    entered: dict[tuple[str, str], list[Event]] = {}
    for event in trail.all_of("reading-entered"):
        key = (event.step or "", text(event.body, "reading") or "")
        entered.setdefault(key, []).append(event)
    return {key: _entries(trail, here, asked.get(key)) for key, here in entered.items()}


def _entries(trail: Trail, entered: list[Event], asked: Reading | None) -> list[ReadingEntry]:
    standing = [e.sequence for e in entered if e.sequence not in trail.undone]
    newest = standing[-1] if standing else None
    return [
        ReadingEntry(
            sequence=event.sequence,
            wall=event.wall,
            value=text(event.body, "value") or "",
            unit=text(event.body, "unit"),
            within=_within(text(event.body, "value") or "", asked),
            recorded_within=flag(event.body, "within"),
            entered_by=text(event.body, "entered_by"),
            round=trail.round_of(event),
            counts=event.sequence == newest and not trail.is_void(event),
            taken_back=event.sequence in trail.undone,
        )
        for event in entered
    ]


def _within(value: str, asked: Reading | None) -> bool | None:
    """Whether a decimal text lies within the limits; None without limits or number."""
    if asked is None or asked.text or (asked.at_least is None and asked.at_most is None):
        return None
    try:
        given = Decimal(value)
    except InvalidOperation:
        return None
    if not given.is_finite():
        return None
    # repr() of a limit is the number that the step list's author wrote.
    above = asked.at_least is None or given >= Decimal(repr(asked.at_least))
    below = asked.at_most is None or given <= Decimal(repr(asked.at_most))
    return above and below


def findings(trail: Trail) -> dict[str, list[FindingShown]]:
    """Every finding, by step. One counts until something is shown after it at its step."""
    last_shown: dict[str | None, int] = {}
    for event in trail.of("photo-taken", "hold-started", "hold-ended", "reading-entered"):
        if event.kind != "photo-taken" or text(event.body, "wanted") is not None:
            last_shown[event.step] = event.sequence
    newest = {e.step: e.sequence for e in trail.of("finding-given")}
    given: dict[str, list[FindingShown]] = {}
    for event in trail.all_of("finding-given"):
        leads_to = table(event.body, "leads_to")
        covers = event.sequence > last_shown.get(event.step, 0) or _stopped_by(trail, event)
        given.setdefault(event.step or "", []).append(
            FindingShown(
                sequence=event.sequence,
                wall=event.wall,
                step=event.step,
                finding=text(event.body, "finding"),
                action=text(leads_to, "action"),
                to_step=text(leads_to, "step"),
                rule=text(leads_to, "rule"),
                round=trail.round_of(event),
                counts=newest.get(event.step) == event.sequence
                and covers
                and not trail.is_void(event),
                taken_back=event.sequence in trail.undone,
            )
        )
    return given


def _stopped_by(trail: Trail, finding: Event) -> bool:
    """Photos of a stop's reason come after its finding and do not put it in question."""
    return trail.stop is not None and finding.sequence == trail.stop.sequence - 1


# --- notes and names ---------------------------------------------------------------


def notes(trail: Trail) -> list[NoteShown]:
    """Every note, spoken and written, in the order in which they were begun."""
    begun: dict[str | int, Event] = {}
    ended: dict[str, Event] = {}
    transcripts: dict[str, Event] = {}
    corrected: dict[str, Event] = {}
    into = {"transcript-made": transcripts, "transcript-corrected": corrected}
    for event in trail.all_of("note-started", "note-recorded", "note-lost", "note-written", *into):
        note = text(event.body, "note") or ""
        if event.kind == "note-written":
            begun[event.sequence] = event
        elif event.kind in into:
            into[event.kind][note] = event
        else:
            begun.setdefault(note, event)
            if event.kind != "note-started" and note not in ended:
                ended[note] = event
    return [
        _written(trail, event)
        if event.kind == "note-written"
        else _spoken(trail, event, ended.get(key), transcripts.get(key), corrected.get(key))
        for key, event in begun.items()
    ]


def _written(trail: Trail, event: Event) -> NoteShown:
    return NoteShown(
        sequence=event.sequence,
        wall=event.wall,
        step=event.step,
        note=None,
        photo=text(event.body, "photo"),
        audio=None,
        lost_reason=None,
        seconds=None,
        rate=None,
        dropouts=None,
        cut_short=None,
        text=text(event.body, "text") or "",
        transcript=None,
        taken_back=event.sequence in trail.undone,
    )


def _spoken(
    trail: Trail,
    begun: Event,
    ended: Event | None,
    transcript: Event | None,
    corrected: Event | None,
) -> NoteShown:
    body = ended.body if ended and ended.kind == "note-recorded" else {}
    return NoteShown(
        sequence=begun.sequence,
        wall=begun.wall,
        step=begun.step,
        note=text(begun.body, "note"),
        photo=text(body, "photo") or text(begun.body, "photo"),
        audio=original(body, "audio"),
        lost_reason=text(ended.body, "reason") if ended and ended.kind == "note-lost" else None,
        seconds=number(body, "seconds"),
        rate=whole(body, "rate"),
        dropouts=whole(body, "dropouts"),
        cut_short=flag(body, "cut_short"),
        text=None,
        transcript=_transcript(transcript, corrected),
        taken_back=begun.sequence in trail.undone,
    )


def _transcript(made: Event | None, corrected: Event | None) -> TranscriptShown | None:
    if made is None and corrected is None:
        return None
    engine = table(made.body, "engine") if made else {}
    named = " ".join(filter(None, (text(engine, "name"), text(engine, "version"))))
    return TranscriptShown(
        sequence=(made or corrected).sequence,
        text=(text(made.body, "text") or "") if made else "",
        engine=named or None,
        corrected=text(corrected.body, "text") if corrected else None,
        corrected_at=moment(corrected) if corrected else None,
    )


def names(trail: Trail) -> list[NameShown]:
    return [
        NameShown(
            sequence=event.sequence,
            wall=event.wall,
            role=text(event.body, "role"),
            name=text(event.body, "name"),
        )
        for event in trail.of("name-given")
    ]


def prohibitions(stop: Event) -> tuple[str, ...]:
    return texts(stop.body, "prohibitions")
