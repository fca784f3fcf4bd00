"""Everything recorded in a job, gathered once and looked up by step.

After a stop, photos and notes belong to the stop and not to a step any more.
"""

from evidence_app.job.summary import holds_readings_findings
from evidence_app.job.summary.journal import ReadJournal, grouped
from evidence_app.job.summary.model_step import NoteRecord, PhotoRecord
from evidence_app.job.summary.notes import names, notes
from evidence_app.job.summary.photos import photos
from evidence_app.steplist.model import StepList
from evidence_app.steplist.walks import all_photos

_AFTER_STOP = object()  # in place of a step


class Recorded:
    """``photos``, ``notes``, ``names`` in journal order; ``holds``, ``findings`` by
    step; ``readings`` by step and reading."""

    def __init__(self, step_list: StepList, journal: ReadJournal) -> None:
        self.journal = journal
        self._titles = {step.id: step.title for step in step_list.steps}
        self.photos = photos(journal, {photo.id: photo.framing for _, photo in all_photos(step_list)})
        self.holds = holds_readings_findings.holds(
            journal, {s.id: s.hold for s in step_list.steps if s.hold}
        )
        self.readings = holds_readings_findings.readings(
            journal, {(s.id, r.id): r for s in step_list.steps for r in s.readings}
        )
        self.findings = holds_readings_findings.findings(journal)
        self.notes = notes(journal)
        self.names = names(journal)
        self._photos = grouped(self.photos, self._place)
        self._notes = grouped(self.notes, self._place)
        self.photos_after_stop: list[PhotoRecord] = self._photos.get(_AFTER_STOP, [])
        self.notes_after_stop: list[NoteRecord] = self._notes.get(_AFTER_STOP, [])
        self.names_after_stop = [name for name in self.names if journal.after_stop(name)]

    def photos_at(self, step: str | None) -> list[PhotoRecord]:
        return self._photos.get(step, [])

    def notes_at(self, step: str | None) -> list[NoteRecord]:
        return self._notes.get(step, [])

    def _place(self, shown: PhotoRecord | NoteRecord) -> object:
        return _AFTER_STOP if self.journal.after_stop(shown) else shown.step

    def title(self, step: str | None) -> str | None:
        return self._titles.get(step or "", step)
