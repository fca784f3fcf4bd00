"""The summary of a job: what was owed, what was shown, and how it ended.

``summarise`` is a pure function of the step list and the events: the same two
always give the same summary, so that anybody who has them can make it again
and compare. It takes any journal that can be parsed; what it does not know, or
cannot place, it lists as such and leaves out nothing. It states facts and
judges neither people nor photos.
"""

from collections import Counter
from collections.abc import Sequence
from typing import Any

import rfc8785
from msgspec import Struct

from evidence_app import limits
from evidence_app.job import vocabulary as v
from evidence_app.job.rules.route import step_named, steps_of, stop_rule
from evidence_app.job.summary import disturbances, owed
from evidence_app.job.summary import model as m
from evidence_app.job.summary.by_step import AFTER_STOP, Recorded
from evidence_app.job.summary.counting import ledger_record
from evidence_app.job.summary.event_sentences import EventSentences
from evidence_app.job.summary.journal import ReadJournal, TypedEvent, mono_s, wall_s
from evidence_app.job.summary.model_step import HoldRecord, Moment, ReadingRecord, carried
from evidence_app.job.summary.outcome_sentence import outcome_sentence
from evidence_app.job.summary.unplaced import unplaced
from evidence_app.record.event import Event
from evidence_app.sentence import Sentence
from evidence_app.steplist.model import Step, StepList


def summarise(step_list: StepList, events: Sequence[Event]) -> m.Summary:
    """The summary of the job whose journal is ``events`` (whole or up to now)."""
    journal = ReadJournal(events)
    opened = next(journal.all_of(v.JobOpened), None)
    last = journal.entries[-1] if journal.entries else None
    closed = last if last and isinstance(last.body, v.JobClosed) else None
    outcome = closed.body.outcome if closed else "open"
    identity = _identity(step_list, journal, opened)
    recorded = Recorded(step_list, journal)
    cautions = owed.cautions(step_list, identity.variant, journal)
    items = owed.items(step_list, journal)
    before = owed.before_work(cautions, items, bool(journal.visits))
    steps = _steps(step_list, identity.variant, recorded, outcome)
    said = EventSentences(step_list).said
    ledger = tuple(map(ledger_record, recorded.ledger))
    stop = _stop(step_list, recorded, closed, outcome)
    missing = _missing(before, steps, stop)
    clock_notes = tuple(disturbances.clock_notes(journal))
    totals = _totals(recorded, cautions, items, steps, missing, len(clock_notes))
    reason = closed.body.reason if closed else None
    last_step = _last_step(journal, steps, stop)
    return m.Summary(
        format=m.FORMAT,
        identity=identity,
        outcome=m.Outcome(
            outcome=outcome,
            reason=reason,
            sentence=outcome_sentence(outcome, reason, steps, last_step, stop, totals, ledger),
            opened_at=opened.wall if opened else None,
            closed_at=closed.wall if closed else None,
            elapsed_s=wall_s(opened, closed),
            worked_s=disturbances.worked_s(journal),
        ),
        stop=stop,
        owed_but_missing=missing,
        before_work=before,
        cautions=cautions,
        items=items,
        steps=steps,
        general_photos=tuple(recorded.photos_at[None]),
        general_notes=tuple(recorded.notes_at[None]),
        names=recorded.names,
        ledger=ledger,
        scale_cards=journal.every(m.ScaleCardRecord, v.ScaleCardNamed),
        clock_notes=clock_notes,
        device_losses=tuple(disturbances.device_losses(journal)),
        recoveries=journal.every(m.RecoveryRecord, v.RecordRecovered),
        absences=tuple(disturbances.absences(journal)),
        corrections=tuple(
            entry.told(m.Correction, of_kind=getattr(journal.by_sequence.get(entry.body.of), "kind", None))
            for entry in journal.all_of(v.Corrected, v.TakenBack)
        ),
        unplaced=unplaced(journal, {step.id for step in step_list.steps}),
        timeline=tuple(
            entry.told(m.TimelineLine, since_opening_s=mono_s(opened, entry), sentence=said(entry))
            for entry in journal.entries
        ),
        totals=totals,
    )


def to_bytes(summary: m.Summary) -> bytes:
    """RFC 8785 canonical JSON, its sentences in English: the content of data/record.json."""
    return rfc8785.dumps(plain_values(summary))


def plain_values(value: Any) -> Any:
    """``value`` in the types of JSON, sentences as their English text."""
    match value:
        case Sentence():
            return str(value)
        case Struct():
            names = zip(value.__struct_encode_fields__, value.__struct_fields__, strict=True)
            given = {name: getattr(value, field) for name, field in names}
            return {name: plain_values(each) for name, each in given.items() if name != "ledger" or each}
        case tuple() | list():
            return [plain_values(each) for each in value]
        case dict():
            return {key: plain_values(each) for key, each in value.items()}
    return value


def _identity(step_list: StepList, journal: ReadJournal, opened: TypedEvent | None) -> m.Identity:
    ticket = next(journal.of(v.TicketOpened), None)
    body: v.JobOpened | None = opened.body if opened else None
    return carried(
        m.Identity,
        body,
        body.device if body else None,
        step_list_id=body.step_list.id if body else None,
        step_list_version=body.step_list.version if body else None,
        step_list_sha256=body.step_list.sha256 if body else None,
        step_list_title=step_list.title,
        defers_to=step_list.defers_to,
        ticket=ticket.told(m.TicketRecord) if ticket else None,
    )


def _steps(
    step_list: StepList, variant: str | None, recorded: Recorded, outcome: str
) -> tuple[m.StepRecord, ...]:
    """The steps of the variant in order, then any other step that the journal names."""
    journal = recorded.journal
    way = steps_of(step_list, variant)
    numbers = {step.id: number for number, step in enumerate(way, start=1)}
    known = {step.id: step for step in step_list.steps}
    named = dict.fromkeys([*numbers, *(e.step for e in journal.entries if e.step)])
    shown_steps = []
    for name in named:
        step = known.get(name)
        lacking = owed.lacking_state(name, way, journal, outcome)
        visits = journal.visits.get(name, ())
        shown_steps.append(
            carried(
                m.StepRecord,
                step,
                id=name,
                number=numbers.get(name),
                title=step.title if step else name,
                question=step.checkpoint.question if step and step.checkpoint else None,
                visits=tuple(e.told(m.StepVisit, from_step=e.body.from_) for e in visits),
                redo_count=sum(entry.body.reason == "redo" for entry in visits),
                owed=tuple(owed.at_step(step, lacking, recorded)) if step and name in numbers else (),
                hold=_hold(step, name, recorded),
                readings=_readings(step, name, recorded),
                photos=tuple(recorded.photos_at[name]),
                findings=tuple(recorded.findings[name]),
                notes=tuple(recorded.notes_at[name]),
            )
        )
    return tuple(shown_steps)


def _hold(step: Step | None, name: str, recorded: Recorded) -> HoldRecord | None:
    asked, attempts = step.hold if step else None, tuple(recorded.holds[name])
    met = any(attempt.counts for attempt in attempts)
    return carried(HoldRecord, asked, met=met, attempts=attempts) if asked or attempts else None


def _readings(step: Step | None, name: str, recorded: Recorded) -> tuple[ReadingRecord, ...]:
    """The readings of the step in its order, then any other that was entered."""
    entries = recorded.readings[name]
    asked = {reading.id: reading for reading in step.readings} if step else {}
    return tuple(
        carried(ReadingRecord, asked.get(each), id=each, entries=tuple(entries.get(each, ())))
        for each in dict.fromkeys([*asked, *entries])
    )


def _stop(
    step_list: StepList, recorded: Recorded, closed: TypedEvent | None, outcome: str
) -> m.StopRecord | None:
    journal = recorded.journal
    stop = journal.stop
    if stop is None:
        return None
    body: v.RepairStopped = stop.body
    rule, asked = stop_rule(step_list, body.rule), step_named(step_list, stop.step)
    given = [e for e in journal.of(v.FindingGiven) if e.sequence < stop.sequence]
    finding = given[-1] if given and body.by in owed.BY_FINDING else None
    before = [e for e in journal.visits.get(stop.step or "", ()) if e.sequence < stop.sequence]
    worked = journal.all_of(v.StepEntered, v.HoldStarted, v.ReadingEntered, v.FindingGiven)
    return stop.told(
        m.StopRecord,
        prohibitions=body.prohibitions or (rule.prohibitions if rule else ()),
        step_title=asked.title if asked else stop.step,
        finding=finding.body.finding if finding else None,
        finding_sequence=finding.sequence if finding else None,
        finding_to_stop_s=mono_s(finding, stop),
        entered_to_stop_s=mono_s(before[-1], stop) if before else None,
        stop_to_close_s=mono_s(stop, closed),
        owed=tuple(owed.after_stop(rule, recorded, outcome == "stopped")),
        photos=tuple(recorded.photos_at[AFTER_STOP]),
        notes=tuple(recorded.notes_at[AFTER_STOP]),
        names=tuple(name for name in recorded.names if journal.after_stop(name)),
        worked_after=tuple(entry.told(Moment) for entry in worked if journal.after_stop(entry)),
    )


def _missing(
    before: tuple[m.Requirement, ...], steps: tuple[m.StepRecord, ...], stop: m.StopRecord | None
) -> tuple[m.Missing, ...]:
    due: list[tuple[m.StepRecord | None, m.Requirement]] = [(None, each) for each in before]
    due += [(step, each) for step in steps for each in step.owed]
    due += [(None, each) for each in (stop.owed if stop else ())]
    return tuple(
        carried(m.Missing, each, step=step.id if step else None, step_title=step.title if step else None)
        for step, each in due
        if each.state == "missing"
    )


def _last_step(
    journal: ReadJournal, steps: tuple[m.StepRecord, ...], stop: m.StopRecord | None
) -> m.StepRecord | None:
    """The step at which the repair was stopped, else the one entered last."""
    entered = list(journal.of(v.StepEntered))
    last = stop.step if stop else entered[-1].step if entered else None
    return next((step for step in steps if step.id == last), None)


def _totals(
    recorded: Recorded,
    cautions: tuple[m.CautionRecord, ...],
    items: tuple[m.ItemRecord, ...],
    steps: tuple[m.StepRecord, ...],
    missing: tuple[m.Missing, ...],
    clock_notes: int,
) -> m.Totals:
    every = recorded.journal.entries
    kinds = Counter(type(entry.body) for entry in every)
    photos = recorded.photos
    entries = [e for by_id in recorded.readings.values() for here in by_id.values() for e in here]
    spoken = [note for note in recorded.notes if note.audio]
    return m.Totals(
        events=len(every),
        steps=sum(step.number is not None for step in steps),
        steps_entered=sum(bool(step.visits) for step in steps),
        redos=sum(step.redo_count for step in steps),
        cautions_acknowledged=sum(bool(caution.acknowledged) for caution in cautions),
        items_ticked=sum(bool(item.ticked) for item in items),
        photos=len(photos),
        photo_bytes=min(sum(max(p.original.bytes or 0, 0) for p in photos), limits.LARGEST_INTEGER),
        photos_superseded=sum(photo.superseded for photo in photos),
        photos_kept=sum(photo.kept_reason is not None for photo in photos),
        measurements=sum(len(photo.measurements) for photo in photos),
        holds_met=sum(bool(step.hold and step.hold.met) for step in steps),
        readings=len(entries),
        readings_outside=sum(entry.within is False and entry.counts for entry in entries),
        findings=kinds[v.FindingGiven],
        spoken_notes=len(spoken),
        spoken_seconds=round(sum(note.seconds or 0.0 for note in spoken), 3),
        written_notes=kinds[v.NoteWritten],
        clock_notes=clock_notes,
        device_losses=kinds[v.SourceLost],
        missing=len(missing),
    )
