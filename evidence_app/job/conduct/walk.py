"""What the conduct check remembers on its walk over a journal."""

from collections.abc import Callable, Iterable
from typing import Any

from msgspec import Struct

from evidence_app.job import vocabulary as v
from evidence_app.record.event import Event
from evidence_app.sentence import Sentence, sentence
from evidence_app.steplist.model import CountAsked, PhotoWanted, Step, StepList, StopRule


class Breach(Struct, frozen=True):
    """One way in which a journal does not obey; ``sentence`` names event and step itself."""

    sequence: int | None
    step: str | None
    sentence: Sentence


class PhotoSeen(Struct):
    sequence: int
    step: str | None
    wanted: str | None
    purpose: str
    width: int = 0
    height: int = 0
    passes: bool | None = None
    kept: bool = False
    measured: dict[str, Any] | None = None

    @property
    def counts(self) -> bool:
        return self.kept or self.passes is True


class CountSeen(Struct):
    """``explained``: with a reason that says something."""

    sequence: int
    count: int
    explained: bool


class StepProgress(Struct):
    """What counts at one step: emptied when work is done again from it or before it."""

    photos: dict[str, str] = {}
    readings: set[str] = set()
    counts: dict[str, CountSeen] = {}
    held: bool = False
    go_on: bool = False


class HoldSeen(Struct):
    """``unbroken`` until the machine is restarted."""

    sequence: int
    step: str | None
    mono_us: int
    boot: str
    unbroken: bool = True


class NoteSeen(Struct):
    sequence: int
    step: str | None
    photo: str | None
    state: str = "recording"
    transcribed: bool = False


class PendingSeen(Struct):
    """A finding that leads to a redo or a stop, until that follows."""

    sequence: int
    step: str | None
    leads_to: v.LeadsTo
    by: str


class Walk(Struct):
    """The walk's memory. ``step`` is the current step's id; ``order`` the variant's steps,
    ``asked`` what each of them counts by thing, ``places`` the steps that count a thing."""

    step_list: StepList
    breaches: list[Breach] = []
    order: list[str] = []
    asked: dict[str, dict[str, CountAsked]] = {}
    places: dict[str, list[tuple[str, CountAsked]]] = {}
    opened: v.JobOpened | None = None
    ticket: bool = False
    cautions: set[str] = set()
    ticked: set[tuple[str, str]] = set()
    step: str | None = None
    shown: dict[str, StepProgress] = {}
    photos: dict[str, PhotoSeen] = {}
    card: v.ScaleCardNamed | None = None
    hold: HoldSeen | None = None
    redos: dict[str, int] = {}
    pending: PendingSeen | None = None
    notes: dict[str, NoteSeen] = {}
    lost: set[str] = set()
    stop: StopRule | None = None
    reasons: dict[str, str] = {}
    reason_told: bool = False
    stopped_at: int = 0
    names: set[str] = set()
    serial_read: str | None = None
    left: bool = False
    closed: bool = False

    def breach(self, event: Any, template: str | Sentence, /, **values: object) -> None:
        """Note a breach, said by ``template`` with ``values`` in its {named} places; ``event``
        is None for the journal as a whole."""
        said = Sentence(template, tuple(values.items())) if isinstance(template, str) else template
        if event is None:
            self.breaches.append(Breach(None, None, said))
            return
        number, step = getattr(event, "sequence", None), getattr(event, "step", None)
        number = number if type(number) is int else None
        kind = getattr(event, "kind", "?")
        if isinstance(step, str) and step:
            said = sentence(
                "event {number} ({kind}, step {step}) {breach}",
                number=number, kind=kind, step=step, breach=said,
            )  # fmt: skip
        else:
            said = sentence("event {number} ({kind}) {breach}", number=number, kind=kind, breach=said)
        self.breaches.append(Breach(number, step if isinstance(step, str) else None, said))

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
        self.breach(event, "is recorded at another step than the current one, {step}", step=self.step)
        return False

    def missing(self, step: str, but_finding: bool = False) -> list[Sentence]:
        """What the step still owes."""
        table, shown = self.table(step), self.at(step)
        if table is None:
            return [sentence("a place in the variant's step list")]
        missing = [sentence("the hold")] if table.hold and not shown.held else []
        missing += [
            sentence("the reading {reading}", reading=r.id)
            for r in table.readings
            if r.id not in shown.readings
        ]
        for thing in self.asked.get(step, ()):
            if thing not in shown.counts:
                missing.append(sentence("the count of {thing}", thing=thing))
            elif self.unbalanced(step, thing):
                missing.append(sentence("a reason why {thing} does not balance", thing=thing))
        missing += self._photos_missing(self.wanted(step), shown.photos)
        if table.checkpoint and not shown.go_on and not but_finding:
            missing.append(sentence("a finding that goes on"))
        return missing

    def set_out(self, order: list[str], variant: str | None) -> None:
        """The variant's way: its steps, and what each of them counts. Once, or a long list of counted
        things would be read through for every count."""
        self.order, self.asked, self.places = order, {}, {}
        had = {t.id for t in self.step_list.counted if not t.variants or variant in t.variants}
        on_the_way = set(order)
        for step in (each for each in self.step_list.steps if each.id in on_the_way):
            self.asked[step.id] = {asked.thing: asked for asked in step.counts if asked.thing in had}
            for thing, asked in self.asked[step.id].items():
                self.places.setdefault(thing, []).append((step.id, asked))

    def counts_of(self, thing: str) -> list[tuple[str, CountAsked, CountSeen | None]]:
        """Each step that counts the thing, what is listed, and the count that stands there."""
        return [
            (step, asked, self.at(step).counts.get(thing)) for step, asked in self.places.get(thing, ())
        ]

    def unbalanced(self, step: str, thing: str) -> bool:
        """Whether this is the last step that counts the thing, and what came out and went in
        differs from the list while the newest count gives no reason."""
        places = self.counts_of(thing)
        seen = [(asked, count) for _, asked, count in places if count]
        if not seen or places[-1][0] != step:
            return False
        more = {"out": 0, "in": 0}
        for asked, count in seen:
            more[asked.goes] += count.count - asked.listed
        newest = max((count for _, count in seen), key=lambda count: count.sequence)
        return more["out"] != more["in"] and not newest.explained

    def missing_piece_rules(self) -> set[str | None]:
        """The stop rules of the things of which a count that stands differs from the list."""
        return {
            thing.missing
            for thing in self.step_list.counted
            if any(seen and seen.count != asked.listed for _, asked, seen in self.counts_of(thing.id))
        }

    def unmeasured(self, step: str) -> list[str]:
        """The photos of the step that count and lack the measurement they ask for."""
        newest = self.at(step).photos
        lacking = {sha256 for sha256, seen in self.photos.items() if seen.counts and not seen.measured}
        return [
            name
            for name, wanted in self.wanted(step).items()
            if wanted.measurement and newest.get(name) in lacking
        ]

    def missing_reason(self) -> list[Sentence]:
        """What the stop rule still asks."""
        if self.stop is None:
            return []
        missing = self._photos_missing((photo.id for photo in self.stop.photos), self.reasons)
        if self.stop.spoken_reason and not self.reason_told:
            missing.append(sentence("the spoken reason"))
        return missing + [
            sentence("the name of the {role}", role=role)
            for role in self.stop.names
            if role not in self.names
        ]

    def _photos_missing(self, wanted: Iterable[str], newest: dict[str, str]) -> list[Sentence]:
        taken = {name: self.photos.get(newest.get(name, "")) for name in wanted}
        return [
            sentence("the photo {photo}", photo=name)
            for name, photo in taken.items()
            if photo is None or not photo.counts
        ]


Handlers = dict[str, Callable[[Walk, Event, Any], None]]
"""What looks at an event and its body, by the event's kind."""
