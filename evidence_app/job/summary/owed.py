"""What was owed in a job, and how the record answers for each thing.

Read afterwards and for everything at once, where the guide asks "what is owed
now?"; the two agree on what meets a debt. Measurements are advice and are not
owed.
"""

from collections.abc import Mapping, Sequence

from evidence_app.job import vocabulary as v
from evidence_app.job.rules.route import cautions_of, items_of, stop_rule
from evidence_app.job.summary.journal import ReadJournal
from evidence_app.job.summary.model import CautionRecord, ItemRecord, Requirement, StepRecord
from evidence_app.job.summary.model_step import (
    FindingRecord,
    HoldAttempt,
    NameRecord,
    NoteRecord,
    PhotoRecord,
    ReadingEntry,
)
from evidence_app.sentence import Sentence, sentence
from evidence_app.steplist.model import Step, StepList

ITEM_KINDS = {"tools": "tool", "consumables": "consumable", "new-parts": "new-part"}


def cautions(step_list: StepList, variant: str | None, journal: ReadJournal) -> tuple[CautionRecord, ...]:
    """The cautions to acknowledge for this variant, and when each was."""
    when: dict[str, list] = {}
    for event in journal.of(v.CautionAcknowledged):
        when.setdefault(event.body.caution, []).append(event.moment)
    return tuple(
        CautionRecord(
            id=caution.id,
            signal=caution.signal.value,
            hazard=caution.hazard,
            avoid=caution.avoid,
            steps=tuple(s.id for s in step_list.steps if caution.id in s.cautions),
            acknowledged=tuple(when.get(caution.id, ())),
        )
        for caution in cautions_of(step_list, variant)
    )


def items(step_list: StepList, journal: ReadJournal) -> tuple[ItemRecord, ...]:
    """Tools, consumables and new parts, and when each was ticked."""
    when: dict[tuple[str, str], list] = {}
    for event in journal.of(v.ItemTicked):
        when.setdefault((event.body.list, event.body.item), []).append(event.moment)
    return tuple(
        ItemRecord(list=name, id=item.id, name=item.name, ticked=tuple(when.get((name, item.id), ())))
        for name, item in items_of(step_list)
    )


def before_work(
    acknowledged: Sequence[CautionRecord], ticked: Sequence[ItemRecord], begun: bool
) -> tuple[Requirement, ...]:
    """What is owed before the first step; unmet it is missing once work has ``begun``."""
    lacking = "missing" if begun else "unfinished"
    owed = [("caution", c.id, f"{c.signal}: {c.hazard}", c.acknowledged) for c in acknowledged] + [
        (ITEM_KINDS.get(i.list, i.list), i.id, i.name, i.ticked) for i in ticked
    ]
    return tuple(
        _owed(kind, identifier, name, when[0].sequence if when else None, lacking)
        for kind, identifier, name, when in owed
    )


def at_step(
    step: Step,
    lacking: str,
    attempts: Sequence[HoldAttempt],
    entries: Mapping[str, Sequence[ReadingEntry]],
    photos: Sequence[PhotoRecord],
    findings: Sequence[FindingRecord],
) -> tuple[Requirement, ...]:
    """What one step owes, in the order in which it is asked; ``lacking`` is the
    state of what nothing answers for (see ``lacking_state``)."""
    owed = []
    if step.hold:
        held = next((a.ended for a in attempts if a.counts), None)
        owed.append(_owed("hold", step.id, step.hold.applied, held, lacking))
    for reading in step.readings:
        entry = next((e.sequence for e in entries.get(reading.id, ()) if e.counts), None)
        owed.append(_owed("reading", reading.id, reading.name, entry, lacking))
    if step.checkpoint:
        owed += _photos_owed(step.checkpoint.photos, photos, lacking)
        given = next((f.sequence for f in findings if f.counts), None)
        owed.append(_owed("finding", step.id, step.checkpoint.question, given, lacking))
    return tuple(owed)


def after_stop(
    step_list: StepList,
    journal: ReadJournal,
    closed: bool,
    photos: Sequence[PhotoRecord],
    notes: Sequence[NoteRecord],
    names: Sequence[NameRecord],
) -> tuple[Requirement, ...]:
    """What the stop rule asks: photos of the reason, a spoken reason, names."""
    rule = stop_rule(step_list, journal.stop.body.rule) if journal.stop else None
    if rule is None:
        return ()
    lacking = "missing" if closed else "unfinished"
    owed = _photos_owed(rule.photos, photos, lacking)
    if rule.spoken_reason:
        reason, kind = _reason(journal, notes), "spoken-reason"
        words = sentence("The reason for the stop in a voice note")
        owed.append(_owed(kind, kind, words, reason.sequence if reason else None, lacking))
    for role in rule.names:
        given = next((n.sequence for n in reversed(names) if n.role == role), None)
        words = sentence("The name of the {role}", role=role.replace("-", " "))
        owed.append(_owed("name", role, words, given, lacking))
    return tuple(owed)


def lacking_state(step: str, way: Sequence[Step], journal: ReadJournal, outcome: str) -> str:
    """The state of what nothing answers for at ``step``.

    A completed job owes everything. Otherwise a step that was passed by, or that
    ended in the stop by its own finding, owes everything too; the one where the
    job ended is unfinished; and those never entered (since a redo) not reached.
    """
    if outcome == "completed":
        return "missing"
    if not journal.entered(step):
        return "not-reached"
    order = [s.id for s in way]
    later = order[order.index(step) + 1 :] if step in order else []
    passed_by = any(journal.entered(other) for other in later)
    ended_by_finding = (
        journal.stop is not None and journal.stop.step == step and journal.stop.body.by != "technician"
    )
    return "missing" if passed_by or ended_by_finding else "unfinished"


def missing_of(step: StepRecord) -> list[Requirement]:
    return [owed for owed in step.owed if owed.state == "missing"]


def _photos_owed(wanted: Sequence, photos: Sequence[PhotoRecord], lacking: str) -> list[Requirement]:
    owed = []
    for photo in wanted:
        take = next((p for p in photos if p.counts and p.wanted == photo.id), None)
        shown = "kept" if take and not take.passes else "shown"
        owed.append(
            _owed("photo", photo.id, photo.framing, take.sequence if take else None, lacking, shown)
        )
    return owed


def _owed(
    kind: str, identifier: str, name: str | Sentence, by: int | None, lacking: str, shown: str = "shown"
) -> Requirement:
    state = lacking if by is None else shown
    return Requirement(kind=kind, id=identifier, name=name, state=state, by=by)


def _reason(journal: ReadJournal, notes: Sequence[NoteRecord]) -> NoteRecord | None:
    """A voice note of the reason; a written one where no microphone was there."""
    spoken = next((n for n in notes if n.audio), None)
    return spoken or next((n for n in notes if n.text and _microphone_away(journal, n)), None)


def _microphone_away(journal: ReadJournal, note: NoteRecord) -> bool:
    away = False
    for event in journal.of(v.SourceLost, v.SourceReturned):
        if event.sequence > note.sequence:
            break
        if event.body.device == "microphone":
            away = isinstance(event.body, v.SourceLost)
    return away
