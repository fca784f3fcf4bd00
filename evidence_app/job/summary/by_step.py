"""Everything recorded in a job, gathered once and looked up by step.

After a stop, photos and notes belong to the stop and not to a step any more.
"""

from evidence_app.job import vocabulary as v
from evidence_app.job.summary.counting import ledger_lines
from evidence_app.job.summary.holds_readings_findings import findings, holds, readings
from evidence_app.job.summary.journal import ReadJournal, grouped
from evidence_app.job.summary.model_step import NameRecord, NoteRecord, PhotoRecord
from evidence_app.job.summary.notes import notes
from evidence_app.job.summary.photos import photos
from evidence_app.steplist.model import StepList
from evidence_app.steplist.walks import all_photos

AFTER_STOP = object()  # in place of a step


class Recorded:
    """``photos``, ``notes``, ``names`` in journal order, the first two also by step or
    AFTER_STOP; ``holds``, ``findings`` by step; ``readings`` by step and reading; ``ledger`` by counted thing."""

    def __init__(self, step_list: StepList, journal: ReadJournal) -> None:
        self.journal = journal
        self.photos = photos(journal, {photo.id: photo.framing for _, photo in all_photos(step_list)})
        self.holds = holds(journal, {s.id: s.hold for s in step_list.steps if s.hold})
        self.readings = readings(journal, {(s.id, r.id): r for s in step_list.steps for r in s.readings})
        self.findings = findings(journal)
        opened = next(journal.all_of(v.JobOpened), None)
        self.ledger = ledger_lines(step_list, opened.body.variant if opened else None, journal)
        self.notes = notes(journal)
        self.names = journal.every(NameRecord, v.NameGiven)
        self.photos_at = grouped(self.photos, self._place)
        self.notes_at = grouped(self.notes, self._place)

    def _place(self, shown: PhotoRecord | NoteRecord) -> object:
        return AFTER_STOP if self.journal.after_stop(shown) else shown.step
