"""A journal read once: each event with its typed body, and what of it still stands.

Rules, the same as the guide's:

- an event that was taken back stands no more; a redo goes with its finding;
- work sent back to a step voids what was shown before at that step and at every
  step entered after it; the voided is still shown, and counts no more;
- the first stop divides the job: what comes after it answers for the stop.

A journal that parses may still hold a body that no version of the app writes. Such an event
has no typed body: it keeps its line in the timeline, is listed as unplaced, and answers for
nothing.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from operator import attrgetter
from typing import Any, TypeVar

import msgspec

from evidence_app.job import vocabulary as v
from evidence_app.job.conduct.taken_back import taken_back
from evidence_app.job.summary.model_step import Moment, R, carried
from evidence_app.record import times
from evidence_app.record.event import Event


class TypedEvent(Event, frozen=True, kw_only=True):
    """An event whose body is read as its kind's type: None where ``raw``, the body as recorded,
    is not one."""

    body: Any
    raw: dict[str, Any]
    taken_back: bool

    def told(self, record: type[R], **more: Any) -> R:
        """A ``record`` of this event: its fields that event and body have by the same names, and
        ``more``."""
        return carried(record, self, self.body, **more)


T = TypeVar("T")
Key = Callable[[TypedEvent], Hashable]
step_of: Key = attrgetter("step")


def grouped(items: Iterable[T], key: Callable[[T], Hashable]) -> dict[Any, list[T]]:
    """The items by ``key``, in order; an empty list where none has it."""
    groups: dict[Any, list[T]] = defaultdict(list)
    for item in items:
        groups[key(item)].append(item)
    return groups


def first_of(entries: Iterable[TypedEvent], *bodies: type[v.Body]) -> TypedEvent | None:
    return next((entry for entry in entries if isinstance(entry.body, bodies)), None)


class ReadJournal:
    """``by_sequence`` finds an event; ``visits`` are the entries into each step; ``marks[step]``
    the sequences of the redos that voided the step, in order."""

    def __init__(self, events: Sequence[Event]) -> None:
        read = [(event, _typed(event)) for event in events]
        self.undone, _ = taken_back([(event, body) for event, body in read if body is not None])
        self.entries = tuple(
            carried(TypedEvent, event, body=body, raw=event.body, taken_back=event.sequence in self.undone)
            for event, body in read
        )
        self.by_sequence = {entry.sequence: entry for entry in self.entries}
        self.stop = next(self.of(v.RepairStopped), None)
        self.visits: dict[str, list[TypedEvent]] = {}
        self.marks: dict[str, list[int]] = {}
        for entry in self.of(v.StepEntered):
            self._enter(entry)

    def of(self, *bodies: type[v.Body]) -> Iterator[TypedEvent]:
        """The events with these bodies that stand, in order."""
        return (e for e in self.all_of(*bodies) if not e.taken_back)

    def all_of(self, *bodies: type[v.Body]) -> Iterator[TypedEvent]:
        """The events with these bodies, those taken back included."""
        return (e for e in self.entries if isinstance(e.body, bodies))

    def every(self, record: type[R], body: type[v.Body]) -> tuple[R, ...]:
        """A ``record`` of each event with this body that stands."""
        return tuple(entry.told(record) for entry in self.of(body))

    def newest(self, body: type[v.Body], key: Key = step_of) -> frozenset[int]:
        """The numbers of the newest event with this body of each ``key`` that stands and is not
        void."""
        return frozenset({key(e): e.sequence for e in self.of(body) if not self.is_void(e)}.values())

    def paired(
        self, begin: type[v.Body], *ends: type[v.Body], key: Key = step_of
    ) -> Iterator[tuple[TypedEvent, TypedEvent | None]]:
        """Every event with the body ``begin``, with the next of ``ends`` of the same ``key``.

        One that was taken back begins and ends nothing; of two begun without an end between
        them the later one has the end.
        """
        running: dict[Hashable, int] = {}
        ended: dict[int, TypedEvent] = {}
        for entry in self.of(begin, *ends):
            if isinstance(entry.body, begin):
                running[key(entry)] = entry.sequence
            elif (begun := running.pop(key(entry), None)) is not None:
                ended[begun] = entry
        return ((entry, ended.get(entry.sequence)) for entry in self.all_of(begin))

    def moments(self, body: type[v.Body], key: Key) -> dict[Hashable, tuple[Moment, ...]]:
        """When events with this body happened that stand, by ``key``."""
        return {of: tuple(e.told(Moment) for e in here) for of, here in grouped(self.of(body), key).items()}

    def round_of(self, entry: TypedEvent) -> int:
        """How often the event's step had been sent back before it."""
        return bisect_left(self.marks.get(entry.step or "", []), entry.sequence)

    def is_void(self, entry: TypedEvent) -> bool:
        return entry.sequence < self.void_before(entry.step)

    def void_before(self, step: str | None) -> int:
        return self.marks.get(step or "", [0])[-1]

    def after_stop(self, shown: TypedEvent | Moment) -> bool:
        return self.stop is not None and shown.sequence > self.stop.sequence

    def entered(self, step: str) -> bool:
        """Whether the step was entered and not voided since."""
        return step in self.visits and self.visits[step][-1].sequence >= self.void_before(step)

    def _enter(self, entry: TypedEvent) -> None:
        if entry.step is None:
            return
        self.visits.setdefault(entry.step, []).append(entry)
        if entry.body.reason != "redo":
            return
        order = list(self.visits)
        for step in order[order.index(entry.step) :]:
            self.marks.setdefault(step, []).append(entry.sequence)


def _typed(event: Event) -> v.Body | None:
    try:
        return v.read_body(event.kind, event.body)
    except (KeyError, msgspec.ValidationError, RecursionError):
        return None


def moment_of(entry: TypedEvent | None) -> Moment | None:
    return entry.told(Moment) if entry else None


def mono_s(earlier: TypedEvent | None, later: TypedEvent | None) -> float | None:
    """Seconds from ``earlier`` to ``later`` on the monotonic clock; None across boots, and
    when one of the two did not happen."""
    if earlier is None or later is None or earlier.boot != later.boot:
        return None
    return round((later.mono_us - earlier.mono_us) / 1e6, 6)


def wall_s(earlier: TypedEvent | None, later: TypedEvent | None) -> float | None:
    """Seconds between the two wall times; None when one cannot be read or did not happen."""
    if earlier is None or later is None:
        return None
    try:
        apart = times.parse(later.wall) - times.parse(earlier.wall)
    except ValueError:
        return None
    return round(apart.total_seconds(), 3)
