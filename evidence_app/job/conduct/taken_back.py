"""Which events of a journal were taken back, and whether they could be."""

from __future__ import annotations

from evidence_app.job import vocabulary as v
from evidence_app.job.conduct.walk import Walk
from evidence_app.job.state.job_state import BESIDE, TAKE_BACK_US, TAKEABLE
from evidence_app.record.event import Event


def taken_back(walk: Walk, readable: list[tuple[Event, v.Body]]) -> frozenset[int]:
    """Sequences of the events that the walk passes over: those taken back rightly, and
    the redo that a finding taken back had led to. A wrong taking back is a breach and
    takes nothing back."""
    without: set[int] = set()
    by_sequence = {event.sequence: place for place, (event, _) in enumerate(readable)}
    for place, (event, body) in enumerate(readable):
        if not isinstance(body, v.TakenBack):
            continue
        target = by_sequence.get(body.of, place)
        if target >= place:
            walk.breach(event, f"takes back event {body.of}, which is not before it")
            continue
        between = [e for e, _ in readable[target + 1 : place] if e.sequence not in without]
        redo = _redo_of(readable[target], between)
        reason = _why_not(readable[target][0], event, [e for e in between if e is not redo])
        if readable[target][0].sequence in without:
            reason = "was taken back already"
        if reason:
            walk.breach(event, f"takes back event {body.of}, which {reason}")
            continue
        without.add(body.of)
        if redo is not None:
            without.add(redo.sequence)
    return frozenset(without)


def _redo_of(target: tuple[Event, v.Body], between: list[Event]) -> Event | None:
    body = target[1]
    if not isinstance(body, v.FindingGiven) or body.leads_to.action != "redo":
        return None
    follows = (e for e in between if e.kind == "step-entered" and e.body.get("reason") == "redo")
    return next(follows, None)


def _why_not(target: Event, event: Event, between: list[Event]) -> str | None:
    if target.kind not in TAKEABLE:
        return f"is of a kind that cannot be taken back ({target.kind})"
    if target.boot != event.boot:
        return "is on another boot of the machine"
    if not 0 <= event.mono_us - target.mono_us <= TAKE_BACK_US:
        return f"is {(event.mono_us - target.mono_us) / 1e6:g} s before it, more than 5 s"
    after = next((e for e in between if e.kind not in BESIDE), None)
    return f"event {after.sequence} ({after.kind}) had followed" if after else None
