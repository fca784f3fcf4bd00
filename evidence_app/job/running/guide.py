"""The guide: runs a step list on one device and has everything recorded.

Joins the step list, the record, the photo gate and the rules. A command goes
through ``do``: the rules decide, originals are stored, events are committed one
by one, and the state is folded from exactly those events. Nothing else moves a
job. May be used from several threads; ``state`` can be read at any time without
waiting.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import AbstractContextManager, suppress
from pathlib import Path
from typing import Any

from evidence_app.errors import EvidenceError, PhotoError, RecordError, Refused
from evidence_app.job import commands as c
from evidence_app.job import vocabulary as v
from evidence_app.job.rules import route
from evidence_app.job.rules.decide import decide, tidy
from evidence_app.job.rules.notes_devices import ended_note, lost_note
from evidence_app.job.rules.owed import Advice, Owed, advice_at, owed_anywhere, owed_now
from evidence_app.job.rules.photos_holds_readings import judged
from evidence_app.job.rules.situation import APP, draft
from evidence_app.job.running.one_instant import ReadingOnce
from evidence_app.job.running.opening import opening, refuse_practice_clock, standing
from evidence_app.job.running.previewing import Previewing
from evidence_app.job.running.storing import BYTES_CARRIERS, store
from evidence_app.job.state.facts import Note
from evidence_app.job.state.fold import apply, fold
from evidence_app.job.state.job_state import JobState
from evidence_app.photo.gate.judge import judge
from evidence_app.photo.refusal import refused
from evidence_app.record.clock import Clock
from evidence_app.record.event import Draft, Event, Instant
from evidence_app.record.record import Record
from evidence_app.steplist.model import Step, StepList
from evidence_app.steplist.pictures import STEP_LIST, pictures_in
from evidence_app.steplist.walks import photos_of
from evidence_app.voice.note import recorder

Measure = Callable[..., tuple[dict[str, Any], bytes | None]]
"""Measures on a photo: (photo, what is wanted, reference photo, second=photo from another angle)
-> (result, PNG drawing); the last two may be None."""

_NO_SOUND = "the app ended before any sound was recorded"


class Job(AbstractContextManager["Job"]):
    """One job, open in this process. Made by ``open`` and ``resume``."""

    def __init__(
        self,
        record: Record,
        clock: ReadingOnce,
        step_list: StepList,
        state: JobState,
        measure: Measure | None,
    ) -> None:
        self.record = record
        self.step_list = step_list
        self.steps: tuple[Step, ...] = route.steps_of(step_list, state.variant)
        self._clock = clock
        self._state = state
        self._measure = measure
        self._previews = Previewing(record)
        # Taken in this order. The first spans a photo with its judgement and
        # measurement, which the job must not be closed or left in between.
        self._showing = threading.RLock()
        self._lock = threading.RLock()

    @classmethod
    def open(
        cls,
        folder: Path,
        step_list_bytes: bytes,
        variant: str | None,
        serial: str,
        claim: str,
        technician: str,
        practice: bool,
        clock: Clock,
        measure: Measure | None = None,
        beside: Path | None = None,
    ) -> Job:
        """Begin a job in ``folder``, which must be absent or empty. The pictures of its steps that
        are as the list names them are taken along from ``beside``, the step list's folder.

        Nothing is written when the step list or an entry is not right. Raises
        StepListError, EvidenceError, Refused, RecordError, JobInUse, StorageFull.
        """
        step_list, body = opening(step_list_bytes, variant, serial, claim, technician, practice, clock)
        reading = ReadingOnce(clock)
        record = Record.create(folder, reading)
        try:
            for picture, data in pictures_in(beside, step_list) if beside else ():
                if isinstance(data, bytes):
                    record.keep_derived(picture.sha256, STEP_LIST, data, safe=True)
            record.store(step_list_bytes, "application/toml")
            state = fold(record.append(draft(body, None)))
        except BaseException:
            record.close()
            raise
        return cls(record, reading, step_list, state, measure)

    @classmethod
    def resume(cls, folder: Path, clock: Clock, measure: Measure | None = None) -> Job:
        """Take up a job exactly where it stands, after leaving it or after a crash.

        Voice notes that were cut off are finished, photos that were not judged
        are judged, a hold that a restart made void is recorded as lost. A closed
        job is opened as it is and nothing is added to it.
        Raises RecordError, JobInUse, StorageFull, StepListError, Refused.
        """
        reading = ReadingOnce(clock)
        record = Record.open(folder, reading)
        try:
            step_list, state = standing(record)
            refuse_practice_clock(clock, state.practice)
            job = cls(record, reading, step_list, state, measure)
            if state.phase != "closed":
                job._take_up()
        except BaseException:
            record.close()
            raise
        return job

    # --- asking -------------------------------------------------------------------

    @property
    def state(self) -> JobState:
        return self._state

    @property
    def step(self) -> Step | None:
        """The current step, None before the first."""
        return route.step_named(self.step_list, self._state.step)

    @property
    def owed(self) -> tuple[Owed, ...]:
        """What is owed where the job stands."""
        return owed_now(self.step_list, self._state)

    @property
    def advice(self) -> tuple[Advice, ...]:
        """What measurements at the current step leave open."""
        state = self._state
        return advice_at(self.step_list, state, state.step) if state.step else ()

    @property
    def ready(self) -> bool:
        """Whether Close would be accepted, but for a note that is being recorded."""
        state = self._state
        if state.phase == "stopped":
            return not self.owed
        last = route.neighbour(self.step_list, state.variant, state.step, +1) is None
        return state.phase == "working" and last and not owed_anywhere(self.step_list, state)

    def now(self) -> Instant:
        """The job's clock, for ``state.hold_remaining`` and ``state.can_take_back``."""
        return self._clock.now()

    # --- doing --------------------------------------------------------------------

    def do(self, command: c.Command) -> tuple[Event, ...]:
        """Carry out one command; every event that was recorded for it, in order.

        Raises Refused or PhotoError with nothing recorded, StorageFull or
        RecordError when the disk fails; what was recorded before is safe.
        """
        if isinstance(command, c.TakePhoto):
            return self._take_photo(command)
        if isinstance(command, c.KeepPhoto):
            with self._showing:
                return (*self._commit(command), *self._measured(command.photo))
        if isinstance(command, c.Close | c.Abandon | c.Leave):
            with self._showing:
                return self._commit(command)
        events = self._commit(command)
        if events and events[-1].kind == "note-recorded":
            # The journal has the sound; what cannot be cleared now is when the job is resumed.
            with suppress(RecordError):
                recorder.clear(self.record.scratch, events[-1].body["note"])
        return events

    def close(self) -> None:
        """Let go of the job's folder; calling it twice does no harm."""
        with self._showing, self._lock:
            self._previews.finish()
            self.record.close()

    def __exit__(self, *_: object) -> None:
        self.close()

    def _commit(self, command: c.Command) -> tuple[Event, ...]:
        with self._lock, self._clock.stopped() as now:
            events = self._append(tidy(self._state, self.step_list, now))
            drafts = decide(self._state, self.step_list, command, now)
            if isinstance(command, BYTES_CARRIERS):
                stored = store(self.record, command, self._state.opened)
                drafts = decide(self._state, self.step_list, command, now, stored)
            return (*events, *self._append(drafts))

    def _append(self, drafts: list[Draft]) -> tuple[Event, ...]:
        events: list[Event] = []
        for each in drafts:
            for event in self.record.append(each):
                self._state = apply(self._state, event)
                events.append(event)
        return tuple(events)

    # --- photos -------------------------------------------------------------------

    def _take_photo(self, command: c.TakePhoto) -> tuple[Event, ...]:
        with self._showing:
            events = self._commit(command)
            sha256 = events[-1].body["photo"]["sha256"]
            events += self._judged(sha256, command.data) + self._measured(sha256)
            self._previews.soon(sha256, command.data, "photo")
            return events

    def _judged(self, sha256: str, data: bytes) -> tuple[Event, ...]:
        photo = self._state.photo(sha256)
        wanted = route.asked_of(self.step_list, self._state, photo)
        passes, checks = _judgement(data, bool(wanted and wanted.scale_card))
        with self._lock, self._clock.stopped():
            return self._append(judged(self._state, sha256, passes, checks))

    def _measured(self, sha256: str) -> tuple[Event, ...]:
        """Measure on a photo that counts, when the step list asks for it and it can be done."""
        photo = self._state.photo(sha256)
        wanted = route.asked_of(self.step_list, self._state, photo)
        if self._measure is None or photo is None or not photo.settled:
            return ()
        if wanted is None or wanted.measurement is None:
            return ()
        data = self.record.path_of(sha256).read_bytes()
        asked = wanted.measurement
        try:
            result, markup = self._measure(
                data, wanted, self._newest(asked.reference), second=self._newest(asked.second, photo.step)
            )
        except EvidenceError as problem:
            result, markup = refused(asked.kind.value, asked.unit or "", problem), None
        try:
            events = self._commit(c.RecordMeasurement(sha256, wanted.id, result, markup))
        except Refused:
            if self._state.phase == "working":
                raise
            return ()  # the repair was stopped meanwhile; advice is not needed any more
        if markup is not None:
            self._previews.soon(events[-1].body["markup"]["sha256"], markup, "markup")
        return events

    def _newest(self, view: str | None, step: str | None = None) -> bytes | None:
        photo = route.newest_settled(self._state, view, step)
        return None if photo is None else self.record.path_of(photo.sha256).read_bytes()

    # --- taking up again ------------------------------------------------------------

    def _take_up(self) -> None:
        with self._lock, self._clock.stopped() as now:
            self._append([draft(v.JobResumed(), self._state.step)])
            self._append(tidy(self._state, self.step_list, now))
        self._finish_notes()
        for photo in self._state.photos:
            if photo.passes is None:
                self._judged(photo.sha256, self.record.path_of(photo.sha256).read_bytes())
        step = self.step if self._state.phase == "working" else None
        for wanted in photos_of(step):
            newest = self._state.photo_of(step.id, wanted.id) if step else None
            if newest is not None and newest.measured is None:
                self._measured(newest.sha256)

    def _finish_notes(self) -> None:
        """Bring voice notes that an earlier run did not finish to their end.

        Their files go only once the journal has their sound, or when there is none.
        """
        scratch = self.record.scratch
        for found in recorder.recover_notes(scratch):
            note = self._state.note(found.note)
            if note is None:
                continue  # not of this journal: left where it is
            if note.heard != "recorded" and found.flac is not None:
                self._finish_note(note, found)
            note = self._state.note(found.note)
            if found.flac is None or (note and note.heard == "recorded"):
                recorder.clear(scratch, found.note)
        for note in self._state.notes:
            if note.heard == "recording":
                self._record_recovered(lost_note(note, _NO_SOUND))

    def _finish_note(self, note: Note, found: recorder.FinishedNote) -> None:
        command = c.FinishNote(
            note.id, found.flac, found.seconds, found.dropouts, cut_short=found.cut_short
        )
        try:
            stored = store(self.record, command, self._state.opened)
        except Refused as problem:  # a damaged disk; what is left of the file stays in scratch
            if note.heard == "recording":
                self._record_recovered(lost_note(note, problem.sentence()))
            return
        self._record_recovered(ended_note(note, command, stored, APP))

    def _record_recovered(self, event: Draft) -> None:
        with self._lock, self._clock.stopped():
            self._append([event])


def _judgement(data: bytes, scale_card: bool) -> tuple[bool, tuple[v.JudgedCheck, ...]]:
    try:
        judgement = judge(data, scale_card)
    except PhotoError as problem:  # a sound header before a picture that cannot be decoded
        told = f"{problem.sentence()} Take the photo again."
        return False, (v.JudgedCheck("picture", None, None, None, False, told),)
    checks = tuple(
        v.JudgedCheck(x.name, x.value, x.limit, x.unit, x.holds, str(x.sentence)) for x in judgement.checks
    )
    return judgement.passes, checks
