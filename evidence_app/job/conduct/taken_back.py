"""Which events of a journal were taken back, and whether they could be.

The constants are the check's own copy, so that a change of the rules that write a journal
does not change with it what is judged right.
"""

from collections.abc import Sequence
from itertools import islice

from evidence_app.job import vocabulary as v
from evidence_app.record.event import Event
from evidence_app.sentence import Sentence, sentence

_TAKE_BACK_US = 5_000_000

_TAKEABLE = frozenset({
    "caution-acknowledged", "item-ticked", "step-entered", "hold-started", "hold-ended",
    "reading-entered", "pieces-counted", "finding-given", "photo-kept", "name-given",
})  # fmt: skip

_BESIDE = frozenset({
    "note-recorded", "note-lost", "transcript-made", "transcript-corrected", "corrected",
    "device-lost", "device-returned", "clock-stepped",
})  # fmt: skip
"""What may stand between an event and its taking back."""

Typed = tuple[Event, v.Body]


def taken_back(readable: Sequence[Typed]) -> tuple[frozenset[int], list[tuple[Event, Sentence]]]:
    """Sequences of the events taken back rightly, and of the redo that a finding taken back
    had led to; then each wrong taking back with the reason. A wrong one takes nothing back."""
    without: set[int] = set()
    wrong: list[tuple[Event, Sentence]] = []
    by_sequence = {event.sequence: place for place, (event, _) in enumerate(readable)}
    for place, (event, body) in enumerate(readable):
        if not isinstance(body, v.TakenBack):
            continue
        target = by_sequence.get(body.of, place)
        if target >= place:
            said = sentence("takes back event {number}, which is not before it", number=body.of)
            wrong.append((event, said))
            continue
        reason, redo = _judged(readable, target, place, without)
        if reason is not None:
            said = sentence("takes back event {number}, which {reason}", number=body.of, reason=reason)
            wrong.append((event, said))
            continue
        without |= {body.of} if redo is None else {body.of, redo}
    return frozenset(without), wrong


def _judged(
    readable: Sequence[Typed], at: int, place: int, without: set[int]
) -> tuple[Sentence | None, int | None]:
    """Why the event at index ``at`` cannot be taken back at index ``place`` (None: it can),
    and the redo that goes with it."""
    target, body = readable[at]
    event = readable[place][0]
    if target.sequence in without:
        return sentence("was taken back already"), None
    if target.kind not in _TAKEABLE:
        return sentence("is of a kind that cannot be taken back ({kind})", kind=target.kind), None
    if target.boot != event.boot:
        return sentence("is on another boot of the machine"), None
    apart_us = event.mono_us - target.mono_us
    if not 0 <= apart_us <= _TAKE_BACK_US:
        return sentence("is {time:g} s before it, more than 5 s", time=apart_us / 1e6), None
    leads_to_redo = isinstance(body, v.FindingGiven) and body.leads_to.action == "redo"
    redo = None
    for after, said in islice(readable, at + 1, place):
        if after.sequence in without or after.kind in _BESIDE:
            continue
        if leads_to_redo and redo is None and isinstance(said, v.StepEntered) and said.reason == "redo":
            redo = after.sequence
            continue
        followed = sentence("event {number} ({kind}) had followed", number=after.sequence, kind=after.kind)
        return followed, None
    return None, redo
