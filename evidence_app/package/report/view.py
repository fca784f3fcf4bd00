"""What the report's template writes, made ready: every sentence, link and picture.

The template only places these; what is shown, and in which order, is decided here.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence

from msgspec import Struct

from evidence_app.job.summary.event_sentences import SOURCES, plain
from evidence_app.job.summary.journal import grouped
from evidence_app.job.summary.model import Requirement, StepRecord, Summary
from evidence_app.job.summary.model_step import MeasurementRecord, NoteRecord, PhotoRecord
from evidence_app.package.report.previews import Embedded, Medium, Wanted
from evidence_app.package.report.sentences import (
    check_words,
    failing_words,
    held,
    measured_words,
    photo_status,
    photo_title,
    reading_words,
    step_heading,
    to_look_at,
    unsettled,
)
from evidence_app.package.report.words import KINDS, NOT_STATED, conformity, limits
from evidence_app.sentence import Sentence, joined, sentence, verbatim
from evidence_app.steplist.model import FINDINGS

Words = str | Sentence

PathOf = Callable[[str], str]

# A path that may become a link: plain segments below the folder of the report, no drive,
# scheme or parent.
_LINKABLE = re.compile(r"(?!.*\.\.)[A-Za-z0-9._-]+(/[A-Za-z0-9._-]+)*", re.ASCII)


class File(Struct, frozen=True):
    """An original in the package; ``link`` is relative to the report, or None."""

    path: Words
    link: str | None
    sha256: str
    bytes: int | None


class MeasurementCard(Struct, frozen=True):
    shown: MeasurementRecord
    said: str
    method: Sentence
    verdict: Words
    size: str
    picture: Medium | None
    file: File | None


class PhotoCard(Struct, frozen=True):
    """One take: its picture, its file and what was said of it. ``large`` where a finding was
    given on it: what the person saw must be seen on paper."""

    photo: PhotoRecord
    title: Words
    status: Words
    mark: str
    large: bool
    source: Words
    picture: Medium
    file: File
    failing: tuple[str, ...]
    passing: str
    measurements: tuple[MeasurementCard, ...]


class WantedView(Struct, frozen=True):
    """One view asked for: the take that stands (if any) and the earlier ones."""

    current: PhotoCard | None
    earlier: tuple[PhotoCard, ...]
    title: Words


class NoteCard(Struct, frozen=True):
    note: NoteRecord
    where: Words
    sound: Medium | None
    file: File | None


class MeasuredRow(Struct, frozen=True):
    """One measurement of the table on paper: ``value`` and ``u`` with their unit, ``limit`` as
    the step list sets it, ``mark`` the shape beside the conformity."""

    photo: int
    title: Words
    value: Words
    u: Words
    limit: Words
    verdict: Words
    mark: str


class OwedRow(Struct, frozen=True):
    """One line of what was required: ``answer`` is what the record has for it, shown on the
    page at ``anchor``, and ``more`` what was said with it; ``mark`` is the shape beside it."""

    kind: Words
    name: Words
    state: str
    mark: str
    answer: Words = ""
    anchor: str | None = None
    more: Words = ""


class Builder:
    """Makes the parts of the report from a summary."""

    def __init__(
        self,
        summary: Summary,
        embedded: Embedded,
        path_of: PathOf,
        references: Mapping[str, str] | None = None,
        plain_marks: bool = False,
    ) -> None:
        """``references`` gives the clean reference of a photo, both by SHA-256. With
        ``plain_marks`` only the finding itself is marked, as layout 2 has it."""
        self._summary = summary
        self._references = references or {}
        self._plain = plain_marks
        self._embedded = embedded
        self._path_of = path_of
        self._pictures: dict[str, Medium] = {}
        self._placed: dict[str, int] = {}
        self.photos = [photo for _, photos in self._photo_sets() for photo in photos]
        self.photo_events = {photo.original.sha256: photo.sequence for photo in self.photos}

    # --- pictures -------------------------------------------------------------------

    def make_pictures(self, progress: Callable[[int, int], None] | None) -> None:
        self._pictures = self._embedded.pictures(self._wanted(), progress)

    def _wanted(self) -> Iterator[Wanted]:
        for photo in self.photos:
            yield photo.original.sha256, "photo"
            for measured in photo.measurements:
                if measured.markup:
                    yield measured.markup.sha256, "markup"

    def _photo_sets(self) -> Iterator[tuple[Words, Sequence[PhotoRecord]]]:
        summary = self._summary
        if summary.stop and summary.stop.photos:
            yield sentence("The reason for the stop"), summary.stop.photos
        for step in summary.steps:
            if step.photos:
                yield step_heading(step), step.photos
        if summary.general_photos:
            yield sentence("Outside any step"), summary.general_photos

    def photo_groups(self) -> list[tuple[Words, tuple[WantedView, ...]]]:
        """What was asked for, by its heading."""
        return [(heading, self._views(photos)) for heading, photos in self._photo_sets()]

    def _views(self, photos: Sequence[PhotoRecord]) -> tuple[WantedView, ...]:
        views = []
        for takes in grouped(photos, lambda photo: photo.wanted or photo.sequence).values():
            current = next((p for p in reversed(takes) if not p.superseded), None)
            views.append(
                WantedView(
                    current=self._card(current) if current else None,
                    earlier=tuple(self._card(p) for p in takes if p is not current),
                    title=photo_title(takes[0]),
                )
            )
        return tuple(views)

    def stop_pictures(self) -> tuple[tuple[Medium, Words], ...]:
        """What the stop was found by, beside its clean reference, each with its title; the
        stop's own photo where none of them has a reference."""
        stop = self._summary.stop
        if stop is None:
            return ()
        every = {photo.original.sha256: photo for photo in self.photos}
        at_step = [p for p in every.values() if p.step == stop.step and p.counts]
        beside = [p for p in at_step if self._references.get(p.original.sha256) in every]
        told = sorted(beside, key=lambda p: not any(map(to_look_at, p.measurements[-1:])))
        pair = [*told[:1], *(every[self._references[p.original.sha256]] for p in told[:1])]
        return tuple(
            (
                self._pictures[photo.original.sha256],
                sentence("Photo {number}: {title}", number=photo.sequence, title=photo_title(photo)),
            )
            for photo in pair or stop.photos[:1]
        )

    def measured_rows(self) -> tuple[MeasuredRow, ...]:
        """The newest measurement of each photo that counts."""
        return tuple(
            self._measured_row(photo, photo.measurements[-1])
            for photo in self.photos
            if photo.measurements and not photo.superseded
        )

    def _measured_row(self, photo: PhotoRecord, measured: MeasurementRecord) -> MeasuredRow:
        unit = (measured.unit or "").replace("mm2", "mm²")
        at = (measured.more.get(name) for name in ("at_least", "at_most"))
        low, high = (value if isinstance(value, float | int) else None for value in at)
        value: Words = f"{plain(measured.value)} {unit}" if measured.value is not None else "–"
        largest = measured.more.get("largest")  # a gap keeps its limit where it is widest
        if isinstance(largest, dict) and isinstance(largest.get("width_mm"), float | int):
            most = f"{plain(largest['width_mm'])} {unit}"
            value = sentence("{value}, at most {most}", value=value, most=most)
        return MeasuredRow(
            photo=photo.sequence,
            title=photo_title(photo),
            value=value,
            u=f"{plain(measured.U)} {unit}" if measured.U is not None else "–",
            limit=limits(low, high, unit),
            verdict=conformity(measured),
            mark="attention" if to_look_at(measured) else "" if measured.advice_only else "shown",
        )

    def _card(self, photo: PhotoRecord) -> PhotoCard:
        status, mark = photo_status(photo)
        step = next((s for s in self._summary.steps if s.id == photo.step), None)
        if (
            mark == "shown"
            and not self._plain
            and (any(map(to_look_at, photo.measurements[-1:])) or (step and _finding_of(step) != "clear"))
        ):
            mark = "attention"
        return PhotoCard(
            photo=photo,
            title=photo_title(photo),
            status=status,
            mark=mark,
            large=not self._plain and step is not None and bool(step.findings),
            source=SOURCES.get(photo.source_kind or "", photo.source_kind or NOT_STATED),
            picture=self._picture(photo.original.sha256, photo.sequence),
            file=self.file(photo.original.sha256, photo.original.bytes),
            failing=tuple(failing_words(c) for c in photo.checks if c.holds is False),
            passing=", ".join(check_words(c) for c in photo.checks if c.holds),
            measurements=tuple(self._measurement(m) for m in photo.measurements),
        )

    def _measurement(self, measured: MeasurementRecord) -> MeasurementCard:
        markup, unit = measured.markup, measured.unit or ""
        size = "" if measured.value is None else f"{plain(measured.value)} {unit}"
        if size and measured.U is not None:
            size += f", U = {plain(measured.U)} {unit} (k = 2)"
        return MeasurementCard(
            shown=measured,
            said=measured_words(measured),
            method=Sentence(measured.method or ""),
            verdict=conformity(measured),
            size=size,
            picture=self._picture(markup.sha256, measured.sequence) if markup else None,
            file=self.file(markup.sha256, markup.bytes) if markup else None,
        )

    def _picture(self, sha256: str, sequence: int) -> Medium:
        """The preview where it first stands; afterwards a word on where that is."""
        first = self._placed.setdefault(sha256, sequence)
        if first != sequence:
            said = sentence("The same bytes as event {number}, shown there.", number=first)
            return Medium(uri=None, problem=said)
        return self._pictures[sha256]

    # --- notes ------------------------------------------------------------------------

    def notes(self) -> tuple[NoteCard, ...]:
        summary = self._summary
        placed = [(step_heading(step), note) for step in summary.steps for note in step.notes]
        placed += [(sentence("Outside any step"), note) for note in summary.general_notes]
        if summary.stop:
            placed += [(sentence("After the stop"), note) for note in summary.stop.notes]
        placed.sort(key=lambda pair: pair[1].sequence)
        return tuple(self._note(where, note) for where, note in placed)

    def _note(self, where: Words, note: NoteRecord) -> NoteCard:
        audio = note.audio
        return NoteCard(
            note=note,
            where=where,
            sound=self._embedded.sound(audio.sha256) if audio else None,
            file=self.file(audio.sha256, audio.bytes) if audio else None,
        )

    # --- what was owed ------------------------------------------------------------------

    def step_rows(self) -> list[tuple[StepRecord, list[OwedRow]]]:
        steps = self._summary.steps
        return [(step, [self._owed_row(owed, step) for owed in step.owed]) for step in steps]

    def before_rows(self) -> tuple[OwedRow, ...]:
        """Cautions and items in one line each kind, and each one that is missing by name."""
        rows = []
        for kind in ("caution", "tool", "consumable", "new-part"):
            here = [owed for owed in self._summary.before_work if owed.kind == kind]
            lacking = [owed for owed in here if owed.state != "shown"]
            done = len(here) - len(lacking)
            said = sentence("{done} of {count} ticked", done=done, count=len(here))
            if kind == "caution":
                said = sentence("{done} of {count} acknowledged", done=done, count=len(here))
            if done:
                rows.append(OwedRow(KINDS[kind], "", "shown", "shown", said, "preparation"))
            rows += [OwedRow(KINDS[kind], o.name, o.state, o.state) for o in lacking]
        return tuple(rows)

    def stop_rows(self) -> tuple[OwedRow, ...]:
        stop = self._summary.stop
        return tuple(self._owed_row(owed, None) for owed in stop.owed) if stop else ()

    def _owed_row(self, owed: Requirement, step: StepRecord | None) -> OwedRow:
        kind = KINDS.get(owed.kind, owed.kind)
        mark = owed.state
        if mark == "shown" and (
            (owed.kind == "finding" and step and _finding_of(step) != "clear")
            or (owed.kind == "photo" and not self._plain and self._measured_of(owed, step))
        ):
            mark = "attention"
        return OwedRow(kind, owed.name, owed.state, mark, *self._answer(owed, step))

    def _measured_of(self, owed: Requirement, step: StepRecord | None) -> bool:
        """Whether the photo that answers for a debt has a measurement that is to be looked at."""
        photos = self._photos_beside(step)
        return any(to_look_at(m) for p in photos if p.sequence == owed.by for m in p.measurements[-1:])

    def _photos_beside(self, step: StepRecord | None) -> tuple[PhotoRecord, ...]:
        stop = self._summary.stop
        return step.photos if step else stop.photos if stop else ()

    def _answer(self, owed: Requirement, step: StepRecord | None) -> tuple:
        """What answers for a debt, where it stands on the page, and what was said with it."""
        photos = self._photos_beside(step)
        match owed.kind:
            case "photo" if owed.by is None:
                return (unsettled(owed, photos),)
            case "photo":
                photo = next(p for p in photos if p.sequence == owed.by)
                more: list[Sentence] = []
                if not photo.passes:
                    more.append(sentence("Reason given: “{reason}”", reason=photo.kept_reason))
                more += [verbatim(measured_words(m)) for m in photo.measurements[-1:] if m.sentence]
                said = sentence("Photo {number}", number=owed.by)
                return said, f"photo-{owed.by}", joined(" ", more) if more else ""
            case "hold" if step and step.hold:
                return held(step.hold), "holds" if step.hold.attempts else None
            case "reading" if step:
                entries = [e for r in step.readings if r.id == owed.id for e in r.entries]
                counting = next((e for e in entries if e.counts), None)
                return (reading_words(counting), "readings") if counting else ()
            case "count" if owed.by is not None:
                return sentence("counted"), f"event-{owed.by}"
            case "finding" if step:
                given = next((f for f in step.findings if f.counts), None)
                if given is None:
                    return ()
                word = FINDINGS.get(given.finding or "", given.finding or NOT_STATED)
                return sentence("Finding: {finding}", finding=word), f"event-{given.sequence}"
            case "spoken-reason" if owed.by is not None:
                return sentence("Note, event {number}", number=owed.by), f"note-{owed.by}"
            case "name" if owed.by is not None:
                return (next(n.name or "" for n in self._summary.names if n.sequence == owed.by),)
        return ()

    # --- files ------------------------------------------------------------------------------

    def file(self, sha256: str, byte_count: int | None) -> File:
        try:
            path = self._path_of(sha256)
        except Exception:  # no place for it: said in words, since the report must come out
            return File(sentence("not in this package"), None, sha256, byte_count)
        link = path.removeprefix("data/") if path.startswith("data/") else None
        if link is None or not _LINKABLE.fullmatch(link):
            link = None
        return File(path, link, sha256, byte_count)


def _finding_of(step: StepRecord) -> str | None:
    """The finding that counts; "clear" where the step asks for none."""
    if not step.findings:
        return "clear"
    return next((f.finding for f in step.findings if f.counts), None)
