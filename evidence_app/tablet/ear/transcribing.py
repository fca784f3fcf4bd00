"""Writes spoken notes down in the background, after they were recorded; advice only.

The sound is safe before this begins. What is not done when the job is put down is done
when it is taken up again.
"""

import logging

from evidence_app.errors import EvidenceError
from evidence_app.job import commands as c
from evidence_app.tablet.place import Place

_log = logging.getLogger(__name__)


class Transcribing:
    """``under_way`` holds the ids of the notes that are being written down."""

    def __init__(self, place: Place) -> None:
        self._place = place
        self.under_way: set[str] = set()
        self._ended = False

    def look(self) -> None:
        """Begin with every recorded note of the job that has no transcript."""
        job = self._place.job
        if job is None or not self._place.settings.transcripts or self._ended:
            return
        if job.state.phase not in ("preparing", "working", "stopped"):
            return
        for note in job.state.notes:
            wanted = note.heard == "recorded" and note.transcript is None
            if wanted and note.id not in self.under_way:
                self._begin(job, note)

    def end(self) -> None:
        """Let go of what is under way; called before the job is put down."""
        self._ended = True

    def begin_anew(self) -> None:
        self._ended = False
        self.under_way.clear()

    def _begin(self, job, note) -> None:
        self.under_way.add(note.id)
        path = job.record.path_of(note.audio.sha256)

        def work():
            from evidence_app.voice.understanding.transcript import transcribe

            return transcribe(path, self._place.engine.get(), lambda _: not self._ended)

        def done(found) -> None:
            self.under_way.discard(note.id)
            if found is not None and self._place.job is job:
                add = c.AddTranscript(note.id, found.text, found.engine, found.version)
                self._place.worker.run(lambda: job.do(add), lambda _: self._place.changed(), failed)

        def failed(error: EvidenceError) -> None:
            # Without the engine the note is what it was; the sign says that it is missing.
            _log.info("no transcript: %s", error.sentence())

        self._place.worker.run(work, done, failed, thread="transcript")
