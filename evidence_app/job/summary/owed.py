"""What was owed in a job, and how the record answers for each thing.

Read afterwards and for everything at once, where the guide asks "what is owed
now?"; the two agree on what meets a debt. Measurements are advice and are not
owed.
"""

from collections.abc import Iterator, Sequence
from itertools import chain

from evidence_app.job import vocabulary as v
from evidence_app.job.rules.route import cautions_of, items_of
from evidence_app.job.summary.by_step import AFTER_STOP, Recorded
from evidence_app.job.summary.journal import ReadJournal
from evidence_app.job.summary.model import CautionRecord, ItemRecord, Requirement
from evidence_app.job.summary.model_step import FindingRecord, PhotoRecord, ReadingEntry, carried
from evidence_app.sentence import Sentence, sentence
from evidence_app.steplist.model import PhotoWanted, Step, StepList, StopRule

BY_FINDING = ("finding", "redo-limit")
"""Who stopped the repair, where a finding led to it."""

ITEM_KINDS = {"tools": "tool", "consumables": "consumable", "new-parts": "new-part"}


def cautions(step_list: StepList, variant: str | None, journal: ReadJournal) -> tuple[CautionRecord, ...]:
    """The cautions to acknowledge for this variant, and when each was."""
    when = journal.moments(v.CautionAcknowledged, lambda entry: entry.body.caution)
    return tuple(
        carried(
            CautionRecord,
            caution,
            signal=caution.signal.value,
            steps=tuple(s.id for s in step_list.steps if caution.id in s.cautions),
            acknowledged=when.get(caution.id, ()),
        )
        for caution in cautions_of(step_list, variant)
    )


def items(step_list: StepList, journal: ReadJournal) -> tuple[ItemRecord, ...]:
    """Tools, consumables and new parts, and when each was ticked."""
    when = journal.moments(v.ItemTicked, lambda entry: (entry.body.list, entry.body.item))
    return tuple(
        carried(ItemRecord, item, list=name, ticked=when.get((name, item.id), ()))
        for name, item in items_of(step_list)
    )


def before_work(
    acknowledged: Sequence[CautionRecord], ticked: Sequence[ItemRecord], begun: bool
) -> tuple[Requirement, ...]:
    """What is owed before the first step; unmet it is missing once work has ``begun``."""
    lacking = "missing" if begun else "unfinished"
    owed = [("caution", c.id, f"{c.signal}: {c.hazard}", c.acknowledged) for c in acknowledged]
    owed += [(ITEM_KINDS.get(i.list, i.list), i.id, i.name, i.ticked) for i in ticked]
    return tuple(
        _owed(kind, identifier, name, when[0].sequence if when else None, lacking)
        for kind, identifier, name, when in owed
    )


def at_step(step: Step, lacking: str, recorded: Recorded) -> Iterator[Requirement]:
    """What one step owes, in the order in which it is asked; ``lacking`` is the
    state of what nothing answers for (see ``lacking_state``)."""
    if step.hold:
        held = next((a.ended for a in recorded.holds[step.id] if a.counts), None)
        yield _owed("hold", step.id, step.hold.applied, held, lacking)
    for reading in step.readings:
        by = _counting(recorded.readings[step.id].get(reading.id, ()))
        yield _owed("reading", reading.id, reading.name, by, lacking)
    for line in recorded.ledger:
        if here := line.at(step.id):
            asked, count = here
            by = count.sequence if count and not line.is_open(step.id) else None
            yield _owed("count", line.thing.id, f"{asked.listed} × {line.thing.words}", by, lacking)
    if step.checkpoint:
        yield from _photos_owed(step.checkpoint.photos, recorded.photos_at[step.id], lacking)
        given = _counting(recorded.findings[step.id])
        yield _owed("finding", step.id, step.checkpoint.question, given, lacking)


def after_stop(rule: StopRule | None, recorded: Recorded, closed: bool) -> Iterator[Requirement]:
    """What the stop rule asks: photos of the reason, a spoken reason, names."""
    if rule is None:
        return
    lacking = "missing" if closed else "unfinished"
    yield from _photos_owed(rule.photos, recorded.photos_at[AFTER_STOP], lacking)
    if rule.spoken_reason:
        words = sentence("The reason for the stop in a voice note")
        yield _owed("spoken-reason", "spoken-reason", words, _reason(recorded), lacking)
    given = {n.role: n.sequence for n in recorded.names if recorded.journal.after_stop(n)}
    for role in rule.names:
        words = sentence("The name of the {role}", role=role.replace("-", " "))
        yield _owed("name", role, words, given.get(role), lacking)


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
    stop = journal.stop
    ended_by_finding = stop is not None and stop.step == step and stop.body.by in BY_FINDING
    return "missing" if passed_by or ended_by_finding else "unfinished"


def _counting(shown: Sequence[ReadingEntry] | Sequence[FindingRecord]) -> int | None:
    return next((each.sequence for each in shown if each.counts), None)


def _photos_owed(
    wanted: Sequence[PhotoWanted], photos: Sequence[PhotoRecord], lacking: str
) -> Iterator[Requirement]:
    for photo in wanted:
        take = next((p for p in photos if p.counts and p.wanted == photo.id), None)
        shown = "kept" if take and not take.passes else "shown"
        yield _owed("photo", photo.id, photo.framing, take.sequence if take else None, lacking, shown)


def _owed(
    kind: str, identifier: str, name: str | Sentence, by: int | None, lacking: str, shown: str = "shown"
) -> Requirement:
    state = lacking if by is None else shown
    return Requirement(kind=kind, id=identifier, name=name, state=state, by=by)


def _reason(recorded: Recorded) -> int | None:
    """A voice note of the reason; a written one where no microphone was there."""
    notes = recorded.notes_at[AFTER_STOP]
    spoken = (n.sequence for n in notes if n.audio)
    written = (n.sequence for n in notes if n.text and _microphone_away(recorded.journal, n.sequence))
    return next(chain(spoken, written), None)


def _microphone_away(journal: ReadJournal, sequence: int) -> bool:
    """Whether the last word on a microphone before the event ``sequence`` is that it was lost."""
    told = [
        e.body
        for e in journal.of(v.SourceLost, v.SourceReturned)
        if e.sequence < sequence and e.body.device == "microphone"
    ]
    return bool(told) and isinstance(told[-1], v.SourceLost)
