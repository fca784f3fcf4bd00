"""Where a job stands: an immutable value, folded from its events and nothing else.

``fold`` makes it; the questions that screens and rules ask of it stand here.

What was shown is never removed. Two marks decide what still counts:

- ``void_before[step]``: work was sent back to this step or to an earlier one by
  event n; what was shown at the step before n stays in the record and is owed
  anew. Going back to look (``GoBack``) sets no such mark.
- a finding covers what was shown before it: a later photo, hold or reading at
  the same step makes the finding owed anew.

Of several photos of the same wanted view, holds, readings, counts, findings or names,
the newest counts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import chain
from typing import Any

from msgspec import Struct

from evidence_app.job import vocabulary as v
from evidence_app.job.state import facts
from evidence_app.record.event import Event, Instant

TAKE_BACK_US = 5_000_000
"""How long after an event it can be taken back, in microseconds (5 s)."""

TAKEABLE = frozenset({
    "caution-acknowledged", "item-ticked", "step-entered", "hold-started", "hold-ended",
    "reading-entered", "pieces-counted", "finding-given", "photo-kept", "name-given",
})  # fmt: skip
"""Kinds that can be taken back. A stop cannot, and sounds and photos never."""

BESIDE = frozenset({
    "note-recorded", "note-lost", "transcript-made", "transcript-corrected", "corrected",
    "device-lost", "device-returned", "clock-stepped",
})  # fmt: skip
"""Kinds that may stand between an event and its taking back: they do not hang on the
step or on what was shown at it."""


class Undo(Struct, frozen=True):
    """The newest event that can be taken back, and how to be without it."""

    sequence: int
    mono_us: int
    boot: str
    before: JobState
    since: tuple[Event, ...] = ()


class JobState(Struct, frozen=True):
    """``phase`` is "unopened", "preparing", "working", "stopped" or "closed".

    ``step`` is the current step, None before the first. ``visited`` lists steps
    in the order in which they were first entered. ``pending`` is a finding whose
    consequence (redo or stop) is not in the journal yet. ``left`` is true from
    leaving until the job is taken up again.
    """

    sequence: int = 0
    phase: str = "unopened"
    opened: v.JobOpened | None = None
    ticket: v.TicketOpened | None = None
    cautions: frozenset[str] = frozenset()
    ticked: frozenset[tuple[str, str]] = frozenset()
    step: str | None = None
    visited: tuple[str, ...] = ()
    void_before: dict[str, int] = {}
    photos: tuple[facts.Photo, ...] = ()
    card: v.ScaleCardNamed | None = None
    hold: facts.RunningHold | None = None
    holds: tuple[facts.EndedHold, ...] = ()
    readings: tuple[facts.ReadingGiven, ...] = ()
    counts: tuple[facts.CountGiven, ...] = ()
    findings: tuple[facts.GivenFinding, ...] = ()
    pending: facts.GivenFinding | None = None
    notes: tuple[facts.Note, ...] = ()
    stop: facts.Stop | None = None
    names: tuple[facts.Name, ...] = ()
    lost_devices: frozenset[str] = frozenset()
    left: bool = False
    outcome: v.Outcome | None = None
    taken_back: frozenset[int] = frozenset()
    undo: Undo | None = None

    # --- questions ---------------------------------------------------------------

    @property
    def practice(self) -> bool:
        return self.opened is not None and self.opened.practice

    @property
    def variant(self) -> str | None:
        return self.opened.variant if self.opened else None

    def photo(self, sha256: str) -> facts.Photo | None:
        return next((p for p in self.photos if p.sha256 == sha256), None)

    def photo_of(self, step: str, wanted: str) -> facts.Photo | None:
        """The newest photo of a wanted view at a step that is not void, settled or not."""
        return self._newest(self.photos, step, lambda p: p.wanted == wanted and p.purpose == "checkpoint")

    def photo_of_reason(self, wanted: str) -> facts.Photo | None:
        """The newest photo of a view that the stop rule wants."""
        reasons = (p for p in reversed(self.photos) if p.purpose == "stop-reason")
        return next((p for p in reasons if p.wanted == wanted), None)

    def photo_here(self, wanted: str) -> facts.Photo | None:
        """The newest photo of a view that is wanted where the job stands."""
        if self.phase == "stopped":
            return self.photo_of_reason(wanted)
        return self.photo_of(self.step or "", wanted)

    def reading_of(self, step: str, reading: str) -> facts.ReadingGiven | None:
        return self._newest(self.readings, step, lambda r: r.reading == reading)

    def count_of(self, step: str, thing: str) -> facts.CountGiven | None:
        return self._newest(self.counts, step, lambda c: c.thing == thing)

    def hold_of(self, step: str) -> facts.EndedHold | None:
        """The last ended hold at a step; None while one is running or none was made."""
        if self.hold is not None and self.hold.step == step:
            return None
        return self._newest(self.holds, step)

    def finding_of(self, step: str) -> facts.GivenFinding | None:
        """The finding that covers everything shown at a step; None when it is owed."""
        finding = self._newest(self.findings, step)
        if finding is None or self._last_shown(step) > finding.sequence:
            return None
        return finding

    def redos(self, step: str) -> int:
        """How many findings at this step have sent the work back so far."""
        return sum(f.step == step and f.leads_to.action == "redo" for f in self.findings)

    def note(self, note: str) -> facts.Note | None:
        return next((n for n in self.notes if n.id == note), None)

    @property
    def open_note(self) -> facts.Note | None:
        """The spoken note that is being recorded."""
        return next((n for n in self.notes if n.heard == "recording"), None)

    def name_of(self, role: str) -> str | None:
        return next((n.name for n in reversed(self.names) if n.role == role), None)

    def held_us(self, now: Instant) -> int | None:
        """Microseconds since the running hold began; None when there is none, or
        when the machine was restarted and the time cannot be shown."""
        hold = self.hold
        if hold is None or hold.boot != now.boot or now.mono_us < hold.mono_us:
            return None
        return now.mono_us - hold.mono_us

    def hold_remaining(self, now: Instant) -> float | None:
        """Seconds until the running hold is long enough (0 when it is); None as
        in ``held_us``. The wall clock plays no part."""
        held = self.held_us(now)
        if held is None or self.hold is None:
            return None
        return max(0, microseconds(self.hold.at_least_s) - held) / 1e6

    def can_take_back(self, now: Instant) -> int | None:
        """The sequence of the event that TakeBack would accept now."""
        undo = self.undo
        if undo is None or undo.boot != now.boot or now.mono_us - undo.mono_us > TAKE_BACK_US:
            return None
        return undo.sequence

    def _newest(self, shown: tuple, step: str, fits: Callable[[Any], bool] = lambda _: True) -> Any:
        after = self.void_before.get(step, 0)
        standing = (each for each in reversed(shown) if each.step == step and each.sequence > after)
        return next(filter(fits, standing), None)

    def _last_shown(self, step: str) -> int:
        photos = (photo for photo in self.photos if photo.purpose == "checkpoint")
        running = (self.hold,) if self.hold else ()
        shown: Iterable[Any] = chain(self.holds, self.readings, self.counts, photos, running)
        return max((each.sequence for each in shown if each.step == step), default=0)


def microseconds(seconds: float) -> int:
    return round(seconds * 1_000_000)
