"""A spoken note begun: its event in the journal, then the recorder that is bound to it."""

from collections.abc import Callable
from typing import Any

from evidence_app.job import commands as c
from evidence_app.job.running.guide import Job
from evidence_app.voice.note.recorder import NoteRecorder


def begin_note(job: Job, *given: Callable[..., Any], about: str | None = None) -> NoteRecorder:
    """``given`` are NoteRecorder's ``dropouts`` and ``on_problem``; ``about``: a photo. Raises
    Refused, StorageFull, RecordError."""
    started = job.do(c.StartNote(about))[-1]
    instant = {"wall": started.wall, "mono_us": started.mono_us, "boot": started.boot}
    note, photo = started.body["note"], started.body["photo"]
    return NoteRecorder(job.record.scratch, note, started.step, photo, instant, *given)
