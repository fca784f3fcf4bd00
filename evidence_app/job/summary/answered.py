"""What was owed in a job, and how the record answers for each thing.

Read afterwards and for everything at once, where the guide asks "what is owed
now?"; the two agree on what meets a debt. Measurements are advice and are not
owed.
"""

from __future__ import annotations

from collections.abc import Sequence

from evidence_app.job.rules.route import cautions_of, items_of, stop_rule
from evidence_app.job.summary.evidence import (
    FindingShown,
    HoldAttempt,
    NameShown,
    NoteShown,
    PhotoShown,
    ReadingEntry,
)
from evidence_app.job.summary.model import CautionShown, ItemShown, Owed, StepShown
from evidence_app.job.summary.trail import Trail
from evidence_app.job.summary.untrusted import moment, text
from evidence_app.steplist.model import Step, StepList

ITEM_KINDS = {"tools": "tool", "consumables": "consumable", "new-parts": "new-part"}


def cautions(step_list: StepList, variant: str | None, trail: Trail) -> tuple[CautionShown, ...]:
    """The cautions to acknowledge for this variant, and when each was."""
    when: dict[str, list] = {}
    for event in trail.of("caution-acknowledged"):
        when.setdefault(text(event.body, "caution") or "", []).append(moment(event))
    return tuple(
        CautionShown(
            id=caution.id,
            signal=caution.signal.value,
            hazard=caution.hazard,
            avoid=caution.avoid,
            steps=tuple(s.id for s in step_list.steps if caution.id in s.cautions),
            acknowledged=tuple(when.get(caution.id, ())),
        )
        for caution in cautions_of(step_list, variant)
    )


def items(step_list: StepList, trail: Trail) -> tuple[ItemShown, ...]:
    """Tools, consumables and new parts, and when each was ticked."""
    when: dict[tuple[str | None, str | None], list] = {}
    for event in trail.of("item-ticked"):
        key = (text(event.body, "list"), text(event.body, "item"))
        when.setdefault(key, []).append(moment(event))
    return tuple(
        ItemShown(
            list=name, id=item.id, name=item.name, ticked=tuple(when.get((name, item.id), ()))
        )
        for name, item in items_of(step_list)
    )


def before_work(
    acknowledged: Sequence[CautionShown], ticked: Sequence[ItemShown], begun: bool
) -> tuple[Owed, ...]:
    """What is owed before the first step; unmet it is missing once work has ``begun``."""
    lacking = "missing" if begun else "unfinished"
    owed = [("caution", c.id, f"{c.signal}: {c.hazard}", c.acknowledged) for c in acknowledged] + [
        (ITEM_KINDS.get(i.list, i.list), i.id, i.name, i.ticked) for i in ticked
    ]
    return tuple(
        Owed(
            kind=kind,
            id=identifier,
            name=name,
            state="shown" if when else lacking,
            by=when[0].sequence if when else None,
        )
        for kind, identifier, name, when in owed
    )


def at_step(
    step: Step,
    lacking: str,
    attempts: Sequence[HoldAttempt],
    entries: dict[str, Sequence[ReadingEntry]],
    photos: Sequence[PhotoShown],
    findings: Sequence[FindingShown],
) -> tuple[Owed, ...]:
    """What one step owes, in the order in which it is asked; ``lacking`` is the
    state of what nothing answers for (see ``lacking_state``)."""
    owed = []
    if step.hold:
        held = next((a for a in attempts if a.counts), None)
        owed.append(_owed("hold", step.id, step.hold.applied, held and held.ended, lacking))
    for reading in step.readings:
        entry = next((e for e in entries.get(reading.id, ()) if e.counts), None)
        owed.append(_owed("reading", reading.id, reading.name, entry and entry.sequence, lacking))
    if step.checkpoint:
        owed += _photos_owed(step.checkpoint.photos, photos, lacking)
        given = next((f for f in findings if f.counts), None)
        owed.append(
            _owed("finding", step.id, step.checkpoint.question, given and given.sequence, lacking)
        )
    return tuple(owed)


def after_stop(
    step_list: StepList,
    trail: Trail,
    closed: bool,
    photos: Sequence[PhotoShown],
    notes: Sequence[NoteShown],
    names: Sequence[NameShown],
) -> tuple[Owed, ...]:
    """What the stop rule asks: photos of the reason, a spoken reason, names."""
    rule = stop_rule(step_list, text(trail.stop.body, "rule") or "") if trail.stop else None
    if rule is None:
        return ()
    lacking = "missing" if closed else "unfinished"
    owed = _photos_owed(rule.photos, photos, lacking)
    if rule.spoken_reason:
        reason = _reason(trail, notes)
        owed.append(
            _owed(
                "spoken-reason",
                "spoken-reason",
                "The reason for the stop in a voice note",
                reason and reason.sequence,
                lacking,
            )
        )
    for role in rule.names:
        given = next((n for n in reversed(names) if n.role == role), None)
        words = f"The name of the {role.replace('-', ' ')}"
        owed.append(_owed("name", role, words, given and given.sequence, lacking))
    return tuple(owed)


def lacking_state(step: str, way: Sequence[Step], trail: Trail, outcome: str) -> str:
    """The state of what nothing answers for at ``step``.

    A completed job owes everything. Otherwise a step that was passed by, or that
    ended in the stop by its own finding, owes everything too; the one where the
    job ended is unfinished; and those never entered (since a redo) not reached.
    """
    if outcome == "completed":
        return "missing"
    if not trail.entered(step):
        return "not-reached"
    order = [s.id for s in way]
    later = order[order.index(step) + 1 :] if step in order else []
    passed_by = any(trail.entered(other) for other in later)
    ended_by_finding = (
        trail.stop is not None
        and trail.stop.step == step
        and text(trail.stop.body, "by") in ("finding", "redo-limit")
    )
    return "missing" if passed_by or ended_by_finding else "unfinished"


def missing_of(step: StepShown) -> list[Owed]:
    return [owed for owed in step.owed if owed.state == "missing"]


def _photos_owed(wanted: Sequence, photos: Sequence[PhotoShown], lacking: str) -> list[Owed]:
    owed = []
    for photo in wanted:
        take = next((p for p in photos if p.counts and p.wanted == photo.id), None)
        state = lacking if take is None else "shown" if take.passes else "kept"
        owed.append(
            Owed(
                kind="photo",
                id=photo.id,
                name=photo.framing,
                state=state,
                by=take.sequence if take else None,
            )
        )
    return owed


def _owed(kind: str, identifier: str, name: str, by: int | None, lacking: str) -> Owed:
    state = lacking if by is None else "shown"
    return Owed(kind=kind, id=identifier, name=name, state=state, by=by)


def _reason(trail: Trail, notes: Sequence[NoteShown]) -> NoteShown | None:
    """A voice note of the reason; a written one where no microphone was there."""
    spoken = next((n for n in notes if n.audio), None)
    return spoken or next((n for n in notes if n.text and _microphone_away(trail, n)), None)


def _microphone_away(trail: Trail, note: NoteShown) -> bool:
    away = False
    for event in trail.of("device-lost", "device-returned"):
        if event.sequence > note.sequence:
            break
        if text(event.body, "device") == "microphone":
            away = event.kind == "device-lost"
    return away
