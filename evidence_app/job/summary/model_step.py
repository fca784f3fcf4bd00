"""The types of what was shown in a job, each with the event it comes from.

Every fact names its event by ``sequence``. Times are the journal's own RFC 3339
strings; lengths of time are seconds on the device's monotonic clock unless a
field says that it is the wall clock's. A value that the journal does not give,
or gives in a form that is not understood, is None.
"""

from functools import cache
from typing import Any, TypeVar

from msgspec import Struct, field

from evidence_app.job.vocabulary import JudgedCheck, Ref


class Fact(Struct, frozen=True, kw_only=True):
    """Settings shared by every type of a summary."""


R = TypeVar("R", bound=Struct)


def carried(record: type[R], *told: Struct | None, **more: Any) -> R:
    """A ``record`` whose fields are what ``told`` have by the same names (of two the later
    one's), and ``more``."""
    fields = {name: getattr(each, name) for each in told if each for name in _shared(record, type(each))}
    return record(**fields | more)


@cache
def _shared(record: type[Struct], told: type[Struct]) -> tuple[str, ...]:
    return tuple(name for name in told.__struct_fields__ if name in record.__struct_fields__)


class Moment(Fact, frozen=True):
    """An event by number and wall time; each fact that comes from one event begins with it."""

    sequence: int
    wall: str


class Shown(Moment, frozen=True):
    """What was shown at a step. ``round`` counts how often its step was begun again before it;
    ``counts`` says that it is the one that answers for what was owed."""

    round: int
    counts: bool
    taken_back: bool


class MeasurementRecord(Moment, frozen=True):
    """A measurement's result as recorded; ``more`` is what else it carried."""

    wanted: str | None
    kind: str | None
    unit: str | None
    value: float | None
    U: float | None
    conformity: str | None
    method: str | None
    sentence: str | None
    markup: Ref | None
    more: dict[str, Any]

    @property
    def advice_only(self) -> bool:
        """Whether its value has no uncertainty, and so is held against no limit."""
        return self.value is not None and self.U is None


class PhotoRecord(Shown, frozen=True):
    """One take. ``passes`` is the gate's word (None: not judged); ``superseded`` says that a
    later take or a new round replaced it."""

    step: str | None
    original: Ref
    wanted: str | None
    framing: str | None
    purpose: str | None
    width: int | None
    height: int | None
    source_kind: str | None
    source_name: str | None
    retake_of: str | None
    passes: bool | None
    checks: tuple[JudgedCheck, ...]
    kept_reason: str | None
    measurements: tuple[MeasurementRecord, ...]
    superseded: bool


class HoldAttempt(Shown, frozen=True):
    """One try at a hold, from its beginning on. ``held_s`` is recomputed from the two events'
    monotonic times (None when they are not of one boot, or it never ended);
    ``recorded_s`` and ``recorded_met`` are what the event itself says."""

    sequence: int = field(name="started")
    ended: int | None
    held_s: float | None
    recorded_s: float | None
    met: bool
    recorded_met: bool | None
    lost_reason: str | None


class HoldRecord(Fact, frozen=True, kw_only=True):
    """A hold asked for by the step list (limits None: not asked for)."""

    applied: str | None = None
    at_least_s: float | None = None
    at_most_s: float | None = None
    met: bool
    attempts: tuple[HoldAttempt, ...]


class ReadingEntry(Shown, frozen=True):
    """One value entered. ``within`` is recomputed from the step list's limits
    (None: no limits, or not a number), ``recorded_within`` is the event's."""

    value: str
    unit: str | None
    within: bool | None
    recorded_within: bool | None
    entered_by: str | None


class ReadingRecord(Fact, frozen=True, kw_only=True):
    """A reading asked for by the step list and every value entered for it."""

    id: str
    name: str | None = None
    unit: str | None = None
    at_least: float | None = None
    at_most: float | None = None
    entries: tuple[ReadingEntry, ...]


class FindingRecord(Shown, frozen=True):
    """A finding, and what it led to by the journal's word."""

    step: str | None
    finding: str | None
    action: str | None
    to_step: str | None
    rule: str | None


class TranscriptRecord(Fact, frozen=True):
    """The text made from a note, and the latest correction by a person."""

    sequence: int
    text: str
    engine: str | None
    corrected: str | None
    corrected_at: Moment | None


class NoteRecord(Moment, frozen=True, kw_only=True):
    """A note: spoken (``note``, ``audio``) or written (``text``).

    ``sequence`` is the event that began it. A spoken note without a recording
    has no ``audio``; ``lost_reason`` is what the journal says of that.
    """

    step: str | None
    note: str | None = None
    photo: str | None = None
    audio: Ref | None = None
    lost_reason: str | None = None
    seconds: float | None = None
    rate: int | None = None
    dropouts: int | None = None
    cut_short: bool | None = None
    text: str | None = None
    transcript: TranscriptRecord | None = None
    taken_back: bool


class NameRecord(Moment, frozen=True):
    role: str | None
    name: str | None
