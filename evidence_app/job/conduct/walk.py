"""What the conduct check remembers on its walk over a journal."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from msgspec import Struct

from evidence_app.job import vocabulary as v
from evidence_app.record.event import Event
from evidence_app.steplist.model import PhotoWanted, Step, StepList, StopRule


class Breach(Struct, frozen=True):
    """One way in which a journal does not obey; ``sentence`` names event and step itself."""

    sequence: int | None
    step: str | None
    sentence: str


@dataclass
class PhotoSeen:
    sequence: int
    step: str | None
    wanted: str | None
    purpose: str
    passes: bool | None = None
    kept: bool = False

    @property
    def counts(self) -> bool:
        return self.kept or self.passes is True


@dataclass
class StepProgress:
    """What counts at one step: emptied when work is done again from it or before it."""

    photos: dict[str, str] = field(default_factory=dict)
    readings: set[str] = field(default_factory=set)
    held: bool = False
    go_on: bool = False


@dataclass
class HoldSeen:
    """``unbroken`` until the machine is restarted."""

    sequence: int
    step: str | None
    mono_us: int
    boot: str
    unbroken: bool = True


@dataclass
class NoteSeen:
    sequence: int
    step: str | None
    photo: str | None
    state: str = "recording"
    transcribed: bool = False


@dataclass
class PendingSeen:
    """A finding that leads to a redo or a stop, until that follows."""

    sequence: int
    step: str | None
    leads_to: v.LeadsTo
    by: str


@dataclass
class Walk:
    """The walk's memory. ``step`` is the current step's id; ``order`` the variant's steps."""

    step_list: StepList
    breaches: list[Breach] = field(default_factory=list)
    order: list[str] = field(default_factory=list)
    opened: v.JobOpened | None = None
    ticket: bool = False
    cautions: set[str] = field(default_factory=set)
    ticked: set[tuple[str, str]] = field(default_factory=set)
    step: str | None = None
    shown: dict[str, StepProgress] = field(default_factory=dict)
    photos: dict[str, PhotoSeen] = field(default_factory=dict)
    hold: HoldSeen | None = None
    redos: dict[str, int] = field(default_factory=dict)
    pending: PendingSeen | None = None
    notes: dict[str, NoteSeen] = field(default_factory=dict)
    lost: set[str] = field(default_factory=set)
    stop: StopRule | None = None
    reasons: dict[str, str] = field(default_factory=dict)
    reason_told: bool = False
    stopped_at: int = 0
    names: set[str] = field(default_factory=set)
    left: bool = False
    closed: bool = False

    def breach(self, event: Any, sentence: str) -> None:
        """Note a breach; ``event`` is None for the journal as a whole."""
        if event is None:
            self.breaches.append(Breach(None, None, sentence))
            return
        sequence, step = getattr(event, "sequence", None), getattr(event, "step", None)
        sequence = sequence if type(sequence) is int else None
        step = step if isinstance(step, str) else None
        kind = getattr(event, "kind", "?")
        place = f", step {step}" if step else ""
        head = f"event {sequence} ({kind}{place}) "
        self.breaches.append(Breach(sequence, step, head + sentence))

    def at(self, step: str) -> StepProgress:
        return self.shown.setdefault(step, StepProgress())

    def table(self, step: str | None) -> Step | None:
        """The step of the step list, when the variant has it."""
        if step not in self.order:
            return None
        return next(each for each in self.step_list.steps if each.id == step)

    def wanted(self, step: str | None) -> dict[str, PhotoWanted]:
        table = self.table(step)
        photos = table.checkpoint.photos if table and table.checkpoint else ()
        return {photo.id: photo for photo in photos}

    def must_be_here(self, event: Event) -> bool:
        """Whether the event stands at the current step; a breach when it does not."""
        if event.step == self.step:
            return True
        self.breach(event, f"is recorded at another step than the current one, {self.step}")
        return False

    def missing(self, step: str, but_finding: bool = False) -> list[str]:
        """What the step still owes, in words."""
        table, shown = self.table(step), self.at(step)
        if table is None:
            return ["a place in the variant's step list"]
        missing = ["the hold"] if table.hold and not shown.held else []
        missing += [f"the reading {r.id}" for r in table.readings if r.id not in shown.readings]
        for wanted in self.wanted(step):
            photo = self.photos.get(shown.photos.get(wanted, ""))
            if photo is None or not photo.counts:
                missing.append(f"the photo {wanted}")
        if table.checkpoint and not shown.go_on and not but_finding:
            missing.append("a finding that goes on")
        return missing

    def missing_reason(self) -> list[str]:
        """What the stop rule still asks, in words."""
        if self.stop is None:
            return []
        missing = []
        for wanted in self.stop.photos:
            photo = self.photos.get(self.reasons.get(wanted.id, ""))
            if photo is None or not photo.counts:
                missing.append(f"the photo {wanted.id}")
        if self.stop.spoken_reason and not self.reason_told:
            missing.append("the spoken reason")
        return missing + [f"the name of the {r}" for r in self.stop.names if r not in self.names]
