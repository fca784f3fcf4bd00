"""A journal prepared for summing up: what still stands, and since when.

Rules, the same as the guide's:

- an event that was taken back stands no more; a redo goes with its finding;
- work sent back to a step voids what was shown before at that step and at every
  step entered after it; the voided is still shown, and counts no more;
- the first stop divides the job: what comes after it answers for the stop.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence

from evidence_app.job.state.job_state import BESIDE, TAKE_BACK_US, TAKEABLE
from evidence_app.job.summary.untrusted import text, whole
from evidence_app.record.event import Event


class Trail:
    """``by_sequence`` finds an event; ``marks[step]`` are the sequences of the
    redos that voided the step, in order."""

    def __init__(self, events: Sequence[Event]) -> None:
        self.events = tuple(events)
        self.by_sequence = {event.sequence: event for event in self.events}
        self.undone = _undone(self.events, self.by_sequence)
        self.stop = next(self.of("repair-stopped"), None)
        self.visits: dict[str, list[Event]] = {}
        self.marks: dict[str, list[int]] = {}
        for event in self.of("step-entered"):
            self._enter(event)

    def of(self, *kinds: str) -> Iterator[Event]:
        """The events of these kinds that stand, in order."""
        return (e for e in self.events if e.kind in kinds and e.sequence not in self.undone)

    def all_of(self, *kinds: str) -> Iterator[Event]:
        """The events of these kinds, those taken back included."""
        return (e for e in self.events if e.kind in kinds)

    def round_of(self, event: Event) -> int:
        """How often the event's step had been sent back before it."""
        return bisect_left(self.marks.get(event.step or "", []), event.sequence)

    def is_void(self, event: Event) -> bool:
        return event.sequence < self.void_before(event.step)

    def void_before(self, step: str | None) -> int:
        return self.marks.get(step or "", [0])[-1]

    def after_stop(self, event: Event) -> bool:
        return self.stop is not None and event.sequence > self.stop.sequence

    def entered(self, step: str) -> bool:
        """Whether the step was entered and not voided since."""
        visits = self.visits.get(step)
        return bool(visits) and visits[-1].sequence >= self.void_before(step)

    def _enter(self, event: Event) -> None:
        if event.step is None:
            return
        self.visits.setdefault(event.step, []).append(event)
        if text(event.body, "reason") != "redo":
            return
        order = list(self.visits)
        for step in order[order.index(event.step) :]:
            self.marks.setdefault(step, []).append(event.sequence)


def _undone(events: tuple[Event, ...], by_sequence: dict[int, Event]) -> frozenset[int]:
    """Sequences of the events that were rightly taken back, and of the redos that went
    with them; a wrong taking back takes nothing back."""
    undone: set[int] = set()
    for event in events:
        of = whole(event.body, "of") if event.kind == "taken-back" else None
        target = by_sequence.get(of) if of is not None and of < event.sequence else None
        if target is None or target.sequence in undone or not _in_time(target, event):
            continue
        redo = None
        for sequence in range(target.sequence + 1, event.sequence):
            between = by_sequence.get(sequence)
            if between is None or sequence in undone or between.kind in BESIDE:
                continue
            if redo is None and _is_redo_of(target, between):
                redo = between
                continue
            break
        else:
            undone.add(target.sequence)
            if redo is not None:
                undone.add(redo.sequence)
    return frozenset(undone)


def _in_time(target: Event, event: Event) -> bool:
    return (
        target.kind in TAKEABLE
        and target.boot == event.boot
        and 0 <= event.mono_us - target.mono_us <= TAKE_BACK_US
    )


def _is_redo_of(target: Event, event: Event) -> bool:
    return (
        target.kind == "finding-given"
        and event.kind == "step-entered"
        and text(event.body, "reason") == "redo"
    )
