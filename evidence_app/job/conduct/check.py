"""Does a journal obey its step list? Checked anew, without trusting the app that wrote it.

``check_conduct`` walks over the events and derives for itself what was owed and
what was met. It shares the vocabulary of events with the rules that recorded
them, and nothing else: no state, no decision, no claim such as ``met`` or
``within`` is taken over. The walk is spread over ``conduct`` (what it remembers)
and ``conduct_moves``, ``conduct_shown``, ``conduct_told`` (what it asks of each
kind of event).

It looks at conduct only. The chain of hashes, the originals and the wall clock
are other checks.
"""

from collections.abc import Callable, Sequence
from functools import partial
from itertools import pairwise
from typing import Any

import msgspec

from evidence_app.job import vocabulary as v
from evidence_app.job.conduct.counting import COUNTED
from evidence_app.job.conduct.moves import MOVES
from evidence_app.job.conduct.notes_devices import TOLD
from evidence_app.job.conduct.photos_holds_readings import SHOWN
from evidence_app.job.conduct.taken_back import taken_back
from evidence_app.job.conduct.walk import Breach, Handlers, Walk
from evidence_app.record.event import Event
from evidence_app.steplist.model import StepList

__all__ = ["Breach", "check_conduct"]

_HANDLERS: Handlers = MOVES | SHOWN | COUNTED | TOLD

_AFTER_STOP = frozenset({
    "photo-taken", "photo-judged", "photo-kept", "name-given", "note-started", "note-recorded",
    "note-lost", "note-written", "transcript-made", "transcript-corrected", "corrected",
    "taken-back", "device-lost", "device-returned", "clock-stepped", "machine-restarted",
    "record-recovered", "job-left", "job-resumed", "job-closed",
})  # fmt: skip

_WHILE_PENDING = frozenset({
    "step-entered", "repair-stopped", "taken-back", "clock-stepped", "machine-restarted",
    "record-recovered", "job-resumed",
})  # fmt: skip
"""What may stand between a finding and the redo or stop it leads to."""

_WHILE_LEFT = frozenset({
    "job-resumed", "clock-stepped", "machine-restarted", "record-recovered",
})  # fmt: skip


def check_conduct(step_list: StepList, events: Sequence[Event]) -> list[Breach]:
    """Every breach of the step list and of the rules of a job, in journal order.

    Empty when the journal obeys. Never raises, whatever the events hold: what
    cannot be understood is a breach.
    """
    walk = Walk(step_list)
    readable = [pair for pair in (_read(walk, event) for event in events) if pair]
    _check_order(walk, readable)
    without, wrong = _guarded(walk, None, lambda: taken_back(readable)) or (frozenset(), [])
    for event, said in wrong:
        walk.breach(event, said)
    for event, body in readable:
        if event.sequence not in without:
            _guarded(walk, event, partial(_step_over, walk, event, body))
    if not walk.closed:
        walk.breach(None, "the journal ends without the job being closed")
    return sorted(walk.breaches, key=lambda b: (b.sequence is None, b.sequence or 0))


def _guarded(walk: Walk, event: Event | None, check: Callable[[], Any]) -> Any:
    """Hostile values can break a comparison in more ways than can be listed."""
    try:
        return check()
    except Exception as error:
        walk.breach(event, "cannot be judged ({name})", name=type(error).__name__)
        return None


def _read(walk: Walk, event: Any) -> tuple[Event, v.Body] | None:
    """The event with its typed body; None, and a breach, when it is not of a known form."""
    try:
        msgspec.convert(msgspec.to_builtins(event), Event)
        return event, v.read_body(event.kind, event.body)
    except KeyError:
        walk.breach(event, "is of a kind that is not known")
    except Exception as error:
        walk.breach(event, "does not have the form of its kind ({error})", error=error)
    return None


def _check_order(walk: Walk, readable: list[tuple[Event, v.Body]]) -> None:
    """Numbers from 1 without a gap, the first and last kinds, and the monotonic clock."""
    if not readable or readable[0][0].kind != "job-opened" or readable[0][0].sequence != 1:
        walk.breach(None, "the journal does not begin with the opening of a job as event 1")
    for (previous, _), (event, _) in pairwise(readable):
        _check_follows(walk, previous, event)


def _check_follows(walk: Walk, previous: Event, event: Event) -> None:
    if event.sequence != previous.sequence + 1:
        walk.breach(event, "follows event {number}; numbers must go up by one", number=previous.sequence)
    if previous.kind == "job-closed":
        walk.breach(event, "comes after the job was closed")
    restarted = event.kind == "machine-restarted"
    if event.boot != previous.boot and not restarted:
        walk.breach(event, "is on another boot of the machine and no restart is recorded")
    if event.boot == previous.boot and event.mono_us < previous.mono_us and not restarted:
        walk.breach(event, "is earlier on the monotonic clock than the event before it")


def _step_over(walk: Walk, event: Event, body: v.Body) -> None:
    if walk.closed:
        return  # reported with the order of events
    if walk.stop is not None and event.kind not in _AFTER_STOP:
        walk.breach(event, "is not allowed after the repair was stopped")
        return
    if walk.left and event.kind not in _WHILE_LEFT:
        walk.breach(event, "comes while the job is paused")
    if walk.pending is not None and event.kind not in _WHILE_PENDING:
        walk.breach(
            event, "comes where the finding of event {number} leads elsewhere", number=walk.pending.sequence
        )
    handler = _HANDLERS.get(event.kind)
    if handler is not None:
        handler(walk, event, body)
