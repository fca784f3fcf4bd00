"""The summary of a job: what was owed, what was shown, and how it ended.

``summarise`` is a pure function of the step list and the events: the same two
always give the same summary, so that anybody who has them can make it again
and compare. It takes any journal that can be parsed; what it does not know, or
cannot place, it lists as such and leaves out nothing. It states facts and
judges neither people nor photos.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import msgspec
import rfc8785

from evidence_app.job.rules.route import steps_of, stop_rule
from evidence_app.job.summary import answered as owed
from evidence_app.job.summary import disturbances as clock
from evidence_app.job.summary import gather_kinds as shown
from evidence_app.job.summary.event_sentences import Words, outcome_sentence
from evidence_app.job.summary.evidence import HoldShown, Original, ReadingShown
from evidence_app.job.summary.gathered import Gathered
from evidence_app.job.summary.model import (
    FORMAT,
    CautionShown,
    Correction,
    Identity,
    ItemShown,
    Line,
    Missing,
    StepShown,
    StopShown,
    Summary,
    Ticket,
    Totals,
    Visit,
)
from evidence_app.job.summary.trail import Trail
from evidence_app.job.summary.unplaced import unplaced
from evidence_app.job.summary.untrusted import (
    flag,
    moment,
    mono_s,
    original,
    table,
    text,
    total,
    whole,
)
from evidence_app.record.event import Event
from evidence_app.steplist.model import StepList


def summarise(step_list: StepList, events: Sequence[Event]) -> Summary:
    """The summary of the job whose journal is ``events`` (whole or up to now)."""
    trail = Trail(events)
    opened = next(trail.all_of("job-opened"), None)
    closed = trail.events[-1] if trail.events and trail.events[-1].kind == "job-closed" else None
    outcome = (text(closed.body, "outcome") or "not stated") if closed else "open"
    identity = _identity(step_list, trail, opened)
    gathered = Gathered(step_list, trail)
    cautions = owed.cautions(step_list, identity.variant, trail)
    items = owed.items(step_list, trail)
    before = owed.before_work(cautions, items, bool(trail.visits))
    steps = _steps(step_list, identity.variant, gathered, outcome)
    words = Words(step_list)
    stop = _stop(step_list, trail, gathered, closed, outcome)
    missing = _missing(before, steps, stop)
    clock_notes = tuple(clock.clock_notes(trail))
    losses = tuple(clock.device_losses(trail))
    return Summary(
        format=FORMAT,
        identity=identity,
        outcome=clock.outcome(
            trail, opened, closed, _sentence(outcome, trail, closed, steps, stop, missing, words)
        ),
        stop=stop,
        owed_but_missing=missing,
        before_work=before,
        cautions=cautions,
        items=items,
        steps=steps,
        general_photos=tuple(gathered.photos_at(None)),
        general_notes=tuple(gathered.notes_at(None)),
        names=tuple(gathered.names),
        clock_notes=clock_notes,
        device_losses=losses,
        recoveries=tuple(clock.recoveries(trail)),
        absences=tuple(clock.absences(trail)),
        corrections=_corrections(trail),
        unplaced=unplaced(trail, {step.id for step in step_list.steps}),
        timeline=_timeline(trail, opened, words),
        totals=_totals(trail, gathered, cautions, items, steps, missing, len(clock_notes)),
    )


def to_bytes(summary: Summary) -> bytes:
    """RFC 8785 canonical JSON: the content of data/record.json."""
    return rfc8785.dumps(msgspec.to_builtins(summary))


def _identity(step_list: StepList, trail: Trail, opened: Event | None) -> Identity:
    body = opened.body if opened else {}
    named, device = table(body, "step_list"), table(body, "device")
    return Identity(
        job=text(body, "job"),
        claim=text(body, "claim"),
        technician=text(body, "technician"),
        serial=text(device, "serial"),
        family=text(device, "family"),
        model=text(device, "model"),
        variant=text(body, "variant"),
        step_list_id=text(named, "id"),
        step_list_version=text(named, "version"),
        step_list_sha256=text(named, "sha256"),
        step_list_title=step_list.title,
        defers_to=step_list.defers_to,
        practice=flag(body, "practice"),
        clock=text(body, "clock"),
        app=text(body, "app"),
        platform=text(body, "platform"),
        ticket=_ticket(trail),
    )


def _ticket(trail: Trail) -> Ticket | None:
    event = next(trail.of("ticket-opened"), None)
    if event is None:
        return None
    return Ticket(
        sequence=event.sequence,
        wall=event.wall,
        nonce=text(event.body, "nonce"),
        issued_at=text(event.body, "issued_at"),
        depot=text(event.body, "depot"),
        ticket=original(event.body, "ticket"),
        signature=original(event.body, "signature"),
    )


def _steps(
    step_list: StepList, variant: str | None, gathered: Gathered, outcome: str
) -> tuple[StepShown, ...]:
    """The steps of the variant in order, then any other step that the journal names."""
    trail = gathered.trail
    way = steps_of(step_list, variant)
    numbers = {step.id: number for number, step in enumerate(way, start=1)}
    known = {step.id: step for step in step_list.steps}
    named = dict.fromkeys([*numbers, *(e.step for e in trail.events if e.step)])
    shown_steps = []
    for name in named:
        step = known.get(name)
        attempts = tuple(gathered.holds.get(name, ()))
        entries = gathered.readings_at(name)
        photos = gathered.photos_at(name)
        findings = tuple(gathered.findings.get(name, ()))
        due: tuple = ()
        if name in numbers:
            lacking = owed.lacking_state(name, way, trail, outcome)
            due = owed.at_step(step, lacking, attempts, entries, photos, findings)
        visits = trail.visits.get(name, ())
        shown_steps.append(
            StepShown(
                id=name,
                number=numbers.get(name),
                title=step.title if step else name,
                instruction=step.instruction if step else None,
                question=step.checkpoint.question if step and step.checkpoint else None,
                visits=tuple(
                    Visit(
                        sequence=event.sequence,
                        wall=event.wall,
                        reason=text(event.body, "reason"),
                        from_step=text(event.body, "from"),
                    )
                    for event in visits
                ),
                redo_count=sum(text(event.body, "reason") == "redo" for event in visits),
                owed=due,
                hold=_hold(step, attempts),
                readings=_readings(step, entries),
                photos=tuple(photos),
                findings=findings,
                notes=tuple(gathered.notes_at(name)),
            )
        )
    return tuple(shown_steps)


def _hold(step, attempts: tuple) -> HoldShown | None:
    asked = step.hold if step else None
    if asked is None and not attempts:
        return None
    return HoldShown(
        applied=asked.applied if asked else None,
        at_least_s=asked.at_least_s if asked else None,
        at_most_s=asked.at_most_s if asked else None,
        met=any(attempt.counts for attempt in attempts),
        attempts=attempts,
    )


def _readings(step, entries: dict[str, list]) -> tuple[ReadingShown, ...]:
    """The readings of the step in its order, then any other that was entered."""
    asked = {reading.id: reading for reading in step.readings} if step else {}
    return tuple(
        ReadingShown(
            id=name,
            name=asked[name].name if name in asked else None,
            unit=asked[name].unit if name in asked else None,
            at_least=asked[name].at_least if name in asked else None,
            at_most=asked[name].at_most if name in asked else None,
            entries=tuple(entries.get(name, ())),
        )
        for name in dict.fromkeys([*asked, *entries])
    )


def _stop(
    step_list: StepList,
    trail: Trail,
    gathered: Gathered,
    closed: Event | None,
    outcome: str,
) -> StopShown | None:
    event = trail.stop
    if event is None:
        return None
    rule = stop_rule(step_list, text(event.body, "rule") or "")
    given = [e for e in trail.of("finding-given") if e.sequence < event.sequence]
    by_finding = text(event.body, "by") in ("finding", "redo-limit")
    finding = given[-1] if given and by_finding else None
    entered = trail.visits.get(event.step or "", ())
    before = [e for e in entered if e.sequence < event.sequence]
    photos, notes = gathered.photos_after_stop, gathered.notes_after_stop
    return StopShown(
        sequence=event.sequence,
        wall=event.wall,
        rule=text(event.body, "rule"),
        by=text(event.body, "by"),
        step=event.step,
        step_title=gathered.title(event.step),
        reason=text(event.body, "reason") or (rule.reason if rule else None),
        disposition=text(event.body, "disposition") or (rule.disposition if rule else None),
        prohibitions=shown.prohibitions(event) or (rule.prohibitions if rule else ()),
        finding=text(finding.body, "finding") if finding else None,
        finding_sequence=finding.sequence if finding else None,
        finding_to_stop_s=mono_s(finding, event) if finding else None,
        entered_to_stop_s=mono_s(before[-1], event) if before else None,
        stop_to_close_s=mono_s(event, closed) if closed else None,
        owed=owed.after_stop(
            step_list, trail, outcome == "stopped", photos, notes, gathered.names_after_stop
        ),
        photos=tuple(photos),
        notes=tuple(notes),
        names=tuple(gathered.names_after_stop),
        worked_after=tuple(
            moment(e)
            for e in trail.all_of(
                "step-entered", "hold-started", "reading-entered", "finding-given"
            )
            if trail.after_stop(e)
        ),
    )


def _missing(before: tuple, steps: tuple[StepShown, ...], stop: StopShown | None) -> tuple:
    lacking = [(None, None, due) for due in before if due.state == "missing"]
    lacking += [(step.id, step.title, due) for step in steps for due in owed.missing_of(step)]
    lacking += [(None, None, due) for due in (stop.owed if stop else ()) if due.state == "missing"]
    return tuple(
        Missing(step=step, step_title=title, kind=due.kind, id=due.id, name=due.name)
        for step, title, due in lacking
    )


def _sentence(
    outcome: str,
    trail: Trail,
    closed: Event | None,
    steps: tuple[StepShown, ...],
    stop: StopShown | None,
    missing: tuple[Missing, ...],
    words: Words,
) -> str:
    owed_anywhere = [due for step in steps for due in step.owed] + list(stop.owed if stop else ())
    entered = list(trail.of("step-entered"))
    last = stop.step if stop else entered[-1].step if entered else None
    number = next((step.number for step in steps if step.id == last), None)
    ways = sum(step.number is not None for step in steps)
    where = f"{number} of {ways}, {words.step(last)}" if number else words.step(last)
    return outcome_sentence(
        outcome,
        text(closed.body, "reason") if closed else None,
        ways,
        len(missing),
        sum(due.state == "kept" for due in owed_anywhere),
        sum(e.within is False and e.counts for s in steps for r in s.readings for e in r.entries),
        where if last else None,
        stop.reason if stop else None,
        stop.disposition if stop else None,
    )


def _corrections(trail: Trail) -> tuple[Correction, ...]:
    found = []
    for event in trail.all_of("corrected", "taken-back"):
        of = whole(event.body, "of")
        target = trail.by_sequence.get(of) if of is not None else None
        found.append(
            Correction(
                sequence=event.sequence,
                wall=event.wall,
                of=of,
                of_kind=target.kind if target else None,
                text=text(event.body, "text") if event.kind == "corrected" else None,
            )
        )
    return tuple(found)


def _timeline(trail: Trail, opened: Event | None, words: Words) -> tuple[Line, ...]:
    return tuple(
        Line(
            sequence=event.sequence,
            wall=event.wall,
            since_opening_s=mono_s(opened, event) if opened else None,
            kind=event.kind,
            step=event.step,
            actor=event.actor,
            taken_back=event.sequence in trail.undone,
            sentence=words.sentence(event),
        )
        for event in trail.events
    )


def _totals(
    trail: Trail,
    gathered: Gathered,
    cautions: tuple[CautionShown, ...],
    items: tuple[ItemShown, ...],
    steps: tuple[StepShown, ...],
    missing: tuple[Missing, ...],
    clock_notes: int,
) -> Totals:
    kinds = Counter(event.kind for event in trail.events)
    photos = gathered.photos
    entries = [entry for here in gathered.readings.values() for entry in here]
    spoken = [note for note in gathered.notes if note.audio]
    originals: list[Original] = [photo.original for photo in photos]
    return Totals(
        events=len(trail.events),
        steps=sum(step.number is not None for step in steps),
        steps_entered=sum(bool(step.visits) for step in steps),
        redos=sum(step.redo_count for step in steps),
        cautions_acknowledged=sum(bool(caution.acknowledged) for caution in cautions),
        items_ticked=sum(bool(item.ticked) for item in items),
        photos=len(photos),
        photo_bytes=total([o.bytes for o in originals]),
        photos_superseded=sum(photo.superseded for photo in photos),
        photos_kept=sum(photo.kept_reason is not None for photo in photos),
        measurements=sum(len(photo.measurements) for photo in photos),
        holds_met=sum(bool(step.hold and step.hold.met) for step in steps),
        readings=len(entries),
        readings_outside=sum(entry.within is False and entry.counts for entry in entries),
        findings=kinds["finding-given"],
        spoken_notes=len(spoken),
        spoken_seconds=round(sum(note.seconds or 0.0 for note in spoken), 3),
        written_notes=kinds["note-written"],
        clock_notes=clock_notes,
        device_losses=kinds["device-lost"],
        missing=len(missing),
    )
