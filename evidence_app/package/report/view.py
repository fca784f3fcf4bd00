"""What the report's template writes, made ready: every sentence, link and picture.

The template only places these; what is shown, and in which order, is decided here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence

from msgspec import Struct

from evidence_app.job.summary.model import Requirement, StepRecord, Summary
from evidence_app.job.summary.model_step import GateCheck, NoteRecord, PhotoRecord, ReadingEntry
from evidence_app.package.report.previews import Embedded, Medium, PreviewWanted
from evidence_app.package.report.words import (
    ENTERED_BY,
    FINDINGS,
    OWED_KINDS,
    bare,
    clock_time,
    conformity,
    duration,
    plain,
)

PathOf = Callable[[str], str]

# A path that may become a link: plain segments below the folder of the report, no drive,
# scheme or parent.
_LINKABLE = re.compile(r"(?!.*\.\.)[A-Za-z0-9._-]+(/[A-Za-z0-9._-]+)*", re.ASCII)


class File(Struct, frozen=True):
    """An original in the package; ``link`` is relative to the report, or None."""

    path: str
    link: str | None
    sha256: str
    bytes: int | None


class MeasurementCard(Struct, frozen=True):
    shown: object
    verdict: str
    picture: Medium | None
    file: File | None


class PhotoCard(Struct, frozen=True):
    """One take: its picture, its file and what was said of it."""

    photo: PhotoRecord
    title: str
    status: str
    mark: str
    picture: Medium
    file: File
    failing: tuple[str, ...]
    passing: str
    measurements: tuple[MeasurementCard, ...]


class WantedView(Struct, frozen=True):
    """One view asked for: the take that stands (if any) and the earlier ones."""

    current: PhotoCard | None
    earlier: tuple[PhotoCard, ...]
    title: str


class PhotoGroup(Struct, frozen=True):
    heading: str
    views: tuple[WantedView, ...]


class NoteCard(Struct, frozen=True):
    note: NoteRecord
    where: str
    photo_event: int | None
    sound: Medium | None
    file: File | None


class OwedRow(Struct, frozen=True):
    """One line of what was owed: ``answer`` is what the record has for it, shown on the
    page at ``anchor``, and ``more`` what was said with it."""

    kind: str
    name: str
    state: str
    answer: str = ""
    anchor: str | None = None
    more: str = ""


class StepRows(Struct, frozen=True):
    heading: str
    entered: str
    rows: tuple[OwedRow, ...]


class Builder:
    """Makes the parts of the report from a summary."""

    def __init__(self, summary: Summary, embedded: Embedded, path_of: PathOf) -> None:
        self._summary = summary
        self._embedded = embedded
        self._path_of = path_of
        self._pictures: dict[str, Medium] = {}
        self._placed: dict[str, int] = {}
        self._photo_events = {
            photo.original.sha256: photo.sequence
            for _, photos in self._photo_sets()
            for photo in photos
        }

    # --- pictures -------------------------------------------------------------------

    def make_pictures(self, progress: Callable[[int, int], None] | None) -> None:
        self._pictures = self._embedded.pictures(self._wanted(), progress)

    def _wanted(self) -> Iterator[PreviewWanted]:
        for _, photos in self._photo_sets():
            for photo in photos:
                yield PreviewWanted(photo.original.sha256, "photo")
                for measured in photo.measurements:
                    if measured.markup:
                        yield PreviewWanted(measured.markup.sha256, "markup")

    def _photo_sets(self) -> Iterator[tuple[str, Sequence[PhotoRecord]]]:
        summary = self._summary
        if summary.stop and summary.stop.photos:
            yield "The reason for the stop", summary.stop.photos
        for step in summary.steps:
            if step.photos:
                yield step_heading(step), step.photos
        if summary.general_photos:
            yield "Outside any step", summary.general_photos

    def photo_groups(self) -> tuple[PhotoGroup, ...]:
        return tuple(
            PhotoGroup(heading, self._views(photos)) for heading, photos in self._photo_sets()
        )

    def _views(self, photos: Sequence[PhotoRecord]) -> tuple[WantedView, ...]:
        by_view: dict[str | int, list[PhotoRecord]] = {}
        for photo in photos:
            by_view.setdefault(photo.wanted or photo.sequence, []).append(photo)
        views = []
        for takes in by_view.values():
            current = next((p for p in reversed(takes) if not p.superseded), None)
            views.append(
                WantedView(
                    current=self._card(current) if current else None,
                    earlier=tuple(self._card(p) for p in takes if p is not current),
                    title=_photo_title(takes[0]),
                )
            )
        return tuple(views)

    def _card(self, photo: PhotoRecord) -> PhotoCard:
        status, mark = _photo_status(photo)
        return PhotoCard(
            photo=photo,
            title=_photo_title(photo),
            status=status,
            mark=mark,
            picture=self._picture(photo.original.sha256, photo.sequence),
            file=self.file(photo.original.sha256, photo.original.bytes),
            failing=tuple(
                ": ".join(filter(None, (_check_words(c), c.sentence)))
                for c in photo.checks
                if c.holds is False
            ),
            passing=", ".join(_check_words(c) for c in photo.checks if c.holds),
            measurements=tuple(self._measurement(m) for m in photo.measurements),
        )

    def _measurement(self, measured) -> MeasurementCard:
        markup = measured.markup
        return MeasurementCard(
            shown=measured,
            verdict=conformity(measured.kind, measured.conformity),
            picture=self._picture(markup.sha256, measured.sequence) if markup else None,
            file=self.file(markup.sha256, markup.bytes) if markup else None,
        )

    def _picture(self, sha256: str, sequence: int) -> Medium:
        """The preview where it first stands; afterwards a word on where that is."""
        first = self._placed.setdefault(sha256, sequence)
        if first != sequence:
            return Medium(uri=None, problem=f"The same bytes as event {first}, shown there.")
        return self._pictures[sha256]

    # --- notes ------------------------------------------------------------------------

    def notes(self) -> tuple[NoteCard, ...]:
        summary = self._summary
        placed = [(step_heading(step), note) for step in summary.steps for note in step.notes]
        placed += [("Outside any step", note) for note in summary.general_notes]
        if summary.stop:
            placed += [("After the stop", note) for note in summary.stop.notes]
        placed.sort(key=lambda pair: pair[1].sequence)
        return tuple(self._note(where, note) for where, note in placed)

    def _note(self, where: str, note: NoteRecord) -> NoteCard:
        audio = note.audio
        return NoteCard(
            note=note,
            where=where,
            photo_event=self._photo_events.get(note.photo or ""),
            sound=self._embedded.sound(audio.sha256) if audio else None,
            file=self.file(audio.sha256, audio.bytes) if audio else None,
        )

    # --- what was owed ------------------------------------------------------------------

    def step_rows(self) -> tuple[StepRows, ...]:
        return tuple(
            StepRows(
                heading=step_heading(step),
                entered=_entered(step),
                rows=tuple(self._owed_row(owed, step) for owed in step.owed),
            )
            for step in self._summary.steps
        )

    def before_rows(self) -> tuple[OwedRow, ...]:
        """Cautions and items in one line each kind, and each one that is missing by name."""
        rows = []
        for kind in ("caution", "tool", "consumable", "new-part"):
            here = [owed for owed in self._summary.before_work if owed.kind == kind]
            lacking = [owed for owed in here if owed.state != "shown"]
            done = len(here) - len(lacking)
            if done:
                verb = "acknowledged" if kind == "caution" else "ticked"
                detail = f"{done} of {len(here)} {verb}"
                name = OWED_KINDS[kind] if len(here) == 1 else f"{OWED_KINDS[kind]}s"
                rows.append(OwedRow(name, "", "shown", detail, "preparation"))
            rows += [OwedRow(OWED_KINDS[kind], o.name, o.state) for o in lacking]
        return tuple(rows)

    def stop_rows(self) -> tuple[OwedRow, ...]:
        stop = self._summary.stop
        return tuple(self._owed_row(owed, None) for owed in stop.owed) if stop else ()

    def _owed_row(self, owed: Requirement, step: StepRecord | None) -> OwedRow:
        kind = OWED_KINDS.get(owed.kind, owed.kind)
        return OwedRow(kind, owed.name, owed.state, *self._answer(owed, step))

    def _answer(self, owed: Requirement, step: StepRecord | None) -> tuple:
        """What answers for a debt, where it stands on the page, and what was said with it."""
        photos = step.photos if step else self._summary.stop.photos
        match owed.kind:
            case "photo" if owed.by is None:
                return (_unsettled(owed, photos),)
            case "photo":
                photo = next(p for p in photos if p.sequence == owed.by)
                said = [m.sentence for m in photo.measurements[-1:] if m.sentence]
                if not photo.passes:
                    said.insert(0, f"Reason given: “{photo.kept_reason}”")
                return f"Photo {owed.by}", f"photo-{owed.by}", " ".join(said)
            case "hold" if step and step.hold:
                return _held(step), "holds" if step.hold.attempts else None
            case "reading" if step:
                entries = [e for r in step.readings if r.id == owed.id for e in r.entries]
                counting = next((e for e in entries if e.counts), None)
                return (reading_words(counting), "readings") if counting else ()
            case "finding" if step:
                given = next((f for f in step.findings if f.counts), None)
                if given is None:
                    return ()
                word = FINDINGS.get(given.finding or "", given.finding or "not stated")
                return f"Finding: {word}", f"event-{given.sequence}"
            case "spoken-reason" if owed.by is not None:
                return f"Note, event {owed.by}", f"note-{owed.by}"
            case "name" if owed.by is not None:
                names = self._summary.stop.names
                return (next(n.name or "" for n in names if n.sequence == owed.by),)
        return ()

    # --- files ------------------------------------------------------------------------------

    def file(self, sha256: str, byte_count: int | None) -> File:
        try:
            path = self._path_of(sha256)
        except Exception:  # no place for it: said in words, since the report must come out
            path = "not in this package"
        link = path.removeprefix("data/") if path.startswith("data/") else None
        if link is None or not _LINKABLE.fullmatch(link):
            link = None
        return File(path, link, sha256, byte_count)


def step_heading(step: StepRecord) -> str:
    if step.number is None:
        return f"{step.title} (not a step of this repair)"
    return f"{step.number}. {step.title}"


def reading_words(entry: ReadingEntry) -> str:
    value = f"{entry.value} {entry.unit}" if entry.unit else entry.value
    words = {True: ", within its limits", False: ", OUTSIDE its limits"}.get(entry.within, "")
    how = ENTERED_BY.get(entry.entered_by or "", entry.entered_by)
    return f"{value}{words}{f' ({how})' if how else ''}"


def _photo_title(photo: PhotoRecord) -> str:
    if photo.framing:
        return bare(photo.framing)
    return f"Photo for “{photo.wanted}”" if photo.wanted else "Photo added as a note"


def _photo_status(photo: PhotoRecord) -> tuple[str, str]:
    """What became of a take, in words, and the shape of its mark."""
    if photo.superseded:
        return "superseded: taken again later, or its work was sent back", "not-reached"
    if photo.passes:
        return "passes every check at capture", "shown"
    if photo.kept_reason is not None:
        return "kept with a stated reason", "kept"
    if photo.passes is None:
        return "not judged", "unfinished"
    return "does not pass and was not kept", "missing"


def _unsettled(owed: Requirement, photos: Sequence[PhotoRecord]) -> str:
    takes = [p for p in photos if p.wanted == owed.id]
    standing = next((p for p in reversed(takes) if not p.superseded), None)
    if standing is not None:
        return f"Photo {standing.sequence} {_photo_status(standing)[0]}."
    return "Taken before the work was sent back; owed anew." if takes else ""


def _held(step: StepRecord) -> str:
    hold = step.hold
    counting = next((a for a in hold.attempts if a.counts), None)
    asked = f"at least {duration(hold.at_least_s)}" if hold.at_least_s is not None else "no minimum"
    if counting:
        return f"Held {duration(counting.held_s)}; asked: {asked}"
    if not hold.attempts:
        return f"Asked: {asked}"
    return f"{_tries(len(hold.attempts))}, none long enough; asked: {asked}"


def _tries(count: int) -> str:
    return "1 try" if count == 1 else f"{count} tries"


def _entered(step: StepRecord) -> str:
    if not step.visits:
        return "not entered"
    times = ", ".join(clock_time(visit.wall)[:8] for visit in step.visits)
    redo = f"; sent back here {_times(step.redo_count)}" if step.redo_count else ""
    return f"entered {times}{redo}"


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _check_words(check: GateCheck) -> str:
    """Like "focus 2.2 (limit 3.3 px edge rise)"."""
    if check.limit is None or check.value is None:
        return check.name
    fine = isinstance(check.value, float) and not check.value.is_integer()
    value = f"{check.value:.2g}" if fine else plain(check.value)
    unit = (check.unit or "").partition(",")[0]
    return f"{check.name} {value} (limit {plain(check.limit)}{' ' if unit else ''}{unit})"
