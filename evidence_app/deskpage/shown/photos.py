"""The photos and notes of a package, step by step: finding, measurement, gate, and the files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct

from evidence_app.desk.contents import Contents, photos_of
from evidence_app.desk.review import last_of, reference_of, takes_before
from evidence_app.deskpage.shown.package import finding_words, heard_words
from evidence_app.job.summary.event_sentences import check_said
from evidence_app.job.summary.model_step import MeasurementRecord, NoteRecord, PhotoRecord
from evidence_app.language import say
from evidence_app.package.report.sentences import measured_words
from evidence_app.package.report.words import conformity
from evidence_app.package.verify.case import Asked, Case
from evidence_app.package.zip.archive import open_archive
from evidence_app.steplist.kinds import kind_words
from evidence_app.steplist.model import StepList
from evidence_app.writing import bare, number


class PhotoOnSheet(Struct, frozen=True):
    """``path`` in the package, None when it is not there; ``drawing`` that of a measurement's
    markup; ``earlier`` the path of the take before; ``reference`` of the photo it is measured
    against; ``fails`` whether the gate or a measurement found something."""

    path: str | None
    sequence: int
    title: str
    when: str
    gate: str
    measured: tuple[str, ...]
    drawing: str | None
    reference: str | None
    earlier: str | None
    counts: bool
    fails: bool


class NoteOnSheet(Struct, frozen=True):
    """``path`` of the recording, None for a written note or a lost one."""

    path: str | None
    sequence: int
    head: str
    said: str


class StepSheet(Struct, frozen=True):
    """``finding`` empty where the step asked for none; ``clear`` None then."""

    title: str
    finding: str
    clear: bool | None
    photos: tuple[PhotoOnSheet, ...]
    notes: tuple[NoteOnSheet, ...]


def steps_shown(contents: Contents) -> tuple[StepSheet, ...]:
    """Every step with photos or notes, what is of the stop first."""
    summary = contents.summary
    if summary is None:
        return ()
    case = Case(open_archive(contents.path), Asked())
    paths = {place.sha256: place.path for place in case.places if case.has(place.path)}
    return tuple(_steps(summary, _Photos(paths, case.step_list, photos_of(summary))))


def _steps(summary, shown: _Photos) -> Iterator[StepSheet]:
    if summary.stop and (summary.stop.photos or summary.stop.notes):
        title, of = say("The reason for the stop"), summary.stop
        yield shown.sheet(title, of.reason or "", False, of.photos, of.notes)
    for step in summary.steps:
        if not (step.photos or step.notes or step.findings):
            continue
        counting = [each for each in step.findings if each.counts]
        found = counting[-1].finding if counting else None
        title = f"{step.number}. {bare(step.title)}" if step.number else bare(step.title)
        words, clear = (finding_words(found), found == "clear") if found else ("", None)
        yield shown.sheet(title, words, clear, step.photos, step.notes)
    if summary.general_photos or summary.general_notes:
        title = say("Outside any step")
        yield shown.sheet(title, "", None, summary.general_photos, summary.general_notes)


class _Photos:
    """Photos with what each is to be held against, and notes."""

    def __init__(self, paths: dict[str, str], step_list: StepList, every: list[PhotoRecord]) -> None:
        self._paths, self._step_list, self._every = paths, step_list, every

    def sheet(
        self,
        title: str,
        finding: str,
        clear: bool | None,
        photos: Sequence[PhotoRecord],
        notes: Sequence[NoteRecord],
    ) -> StepSheet:
        return StepSheet(
            title, finding, clear, tuple(map(self._photo, photos)), tuple(map(self._note, notes))
        )

    def _photo(self, photo: PhotoRecord) -> PhotoOnSheet:
        failing = [check for check in photo.checks if check.holds is False]
        drawings = [m.markup.sha256 for m in photo.measurements if m.markup]
        return PhotoOnSheet(
            path=self._path(photo),
            sequence=photo.sequence,
            title=bare(photo.framing) if photo.framing else photo.wanted or say("Photo"),
            when=photo.wall,
            gate=_gate(photo, [say(check_said(check)) for check in failing]),
            measured=tuple(map(_measured, photo.measurements)),
            drawing=self._paths.get(drawings[-1]) if drawings else None,
            reference=self._path(reference_of(self._step_list, photo, self._every)),
            earlier=self._path(last_of(takes_before(photo, self._every))),
            counts=photo.counts,
            fails=bool(failing)
            or any(m.conformity in ("outside", "inconclusive") for m in photo.measurements),
        )

    def _path(self, photo: PhotoRecord | None) -> str | None:
        return self._paths.get(photo.original.sha256) if photo else None

    def _note(self, note: NoteRecord) -> NoteOnSheet:
        if note.text:
            return NoteOnSheet(None, note.sequence, say("Written note"), note.text)
        path = self._paths.get(note.audio.sha256) if note.audio else None
        return NoteOnSheet(path, note.sequence, say("Spoken note"), heard_words(note))


def _gate(photo: PhotoRecord, failing: list[str]) -> str:
    if photo.kept_reason is not None:
        head = say("Kept with a reason: {reason}", reason=photo.kept_reason)
        return f"{head} ({'; '.join(failing)})" if failing else head
    if failing:
        return "; ".join(failing)
    return say("Passed the gate.") if photo.passes else ""


def _measured(record: MeasurementRecord) -> str:
    verdict = say(conformity(record))
    said = measured_words(record)
    if record.advice_only:
        return said or say("advice only, held against no limit")
    if record.value is None:
        return f"{said or say(kind_words(record.kind or '–'))} ({verdict})"
    unit = record.unit or ""
    spread = f" ± {number(record.U)}" if record.U is not None else ""
    return f"{number(record.value)}{spread} {unit}: {verdict}"
