"""Camera and microphone of the workplace: opened when a screen needs them, watched, let go."""

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from evidence_app.errors import EvidenceError
from evidence_app.job import commands as c
from evidence_app.sentence import sentence
from evidence_app.tablet.place import Place
from evidence_app.tablet.presenting import notices as n
from evidence_app.voice.interrupting.loudspeaker import Loudspeaker

SPOKEN_REASON = "The reason is spoken: {note}."


class Sensing:
    """``camera`` is the running camera or None; ``seen`` the gate's LiveLook at
    its picture, None while there is none."""

    def __init__(self, place: Place, camera: str | None, microphone: str | None) -> None:
        self._place = place
        self._camera_named = camera
        self._microphone_named = microphone
        self.camera = None
        self.seen = None
        self._glancing = False
        self.recorder = None
        self.microphone = None
        self.meter = None
        self.note_end = None
        self._shared: Any = None  # a SharedMicrophones, once something hears
        self._sharing = threading.Lock()
        self.loudspeaker = Loudspeaker()

    # --- camera ------------------------------------------------------------------------

    def start_camera(self, wanted: str | None, problem: Callable[[EvidenceError], None]) -> None:
        """Begin the live picture for ``wanted``; on the camera's thread."""
        spec = self._camera_spec(wanted)
        self.end_camera()

        def work():
            camera = self._open_camera(spec)
            camera.listen(self.heard)
            camera.start()
            return camera

        def done(camera) -> None:
            self.camera = camera

        self._place.worker.run(work, done, problem, thread="camera")

    def _open_camera(self, spec: str):
        scheme, _, scene = spec.partition(":")
        if scheme == "practice":
            from evidence_app.practice.camera import PracticeCamera

            # Its photos carry the job's time, also when that is a practice clock's.
            return PracticeCamera(scene, wall=lambda: self._place.clock.now().wall)
        from evidence_app.devices.named import open_camera

        return open_camera(spec)

    def end_camera(self) -> None:
        camera, self.camera, self.seen = self.camera, None, None
        if camera is not None:
            self._place.worker.run(camera.stop, thread="camera")
        self._place.set_notice("camera", None)

    def take(self, done: Callable, failed: Callable[[EvidenceError], None]) -> None:
        camera = self.camera
        if camera is None:
            missing = sentence("The camera is not there yet")
            failed(EvidenceError(missing, remedy=sentence("Wait a moment")))
            return
        self._place.worker.run(camera.take, done, failed, thread="camera")

    def glance_live(self) -> None:
        """Look at the newest picture, one at a time."""
        frame = self.camera.latest() if self.camera is not None else None
        if frame is None or self._glancing:
            return
        self._glancing = True

        def work():
            from evidence_app.photo.gate import live

            return live.look(frame)

        def done(seen) -> None:
            self._glancing = False
            self.seen = seen

        self._place.worker.run(work, done, lambda _: done(None), thread="camera")

    # --- microphone ----------------------------------------------------------------------

    def start_note(self, then: Callable[[], None], photo: str | None = None) -> None:
        """Begin a spoken note, about ``photo`` if given: first the journal's event, then the sound."""
        job = self._place.job
        spec = self._microphone_spec()
        self._place.speaking.hush()  # a step that is being read aloud has no place in the note

        def work():
            from evidence_app.job.running.noting import begin_note
            from evidence_app.voice.levels import LevelMeter
            from evidence_app.voice.note.end import NoteEnd

            microphone = self.open_microphone(spec)
            recorder = begin_note(
                job,
                microphone.dropouts,
                lambda error: self._place.worker.report(lambda: self._place.refused(error)),
                about=photo,
            )
            meter, end = LevelMeter(), NoteEnd()

            def block(samples) -> None:
                recorder.write(samples)
                meter.feed(samples)
                end.feed(samples)

            microphone.listen(self.heard)
            microphone.start(block)
            return microphone, recorder, meter, end

        def done(found) -> None:
            self.microphone, self.recorder, self.meter, self.note_end = found
            then()
            self._place.changed()

        self._place.worker.run(work, done, self._place.refused)

    def end_note(self, then: Callable[[], None], reason: Callable[[str], c.Command] | None = None) -> None:
        """``reason``: the command that the note is the reason of; done when it says something."""
        if self.recorder is None:
            then()
            return
        microphone, recorder = self.microphone, self.recorder
        job = self._place.job
        asked = reason is not None or job.state.phase == "stopped"
        self.microphone = self.recorder = self.meter = self.note_end = None

        def work():
            from evidence_app.package.verify.originals.media import says_nothing
            from evidence_app.voice.note.recorder import put_aside

            microphone.stop()
            done = recorder.finish()
            lacking = ""
            if asked and done.flac:
                silent = says_nothing(done.flac.read_bytes())
                lacking = "silent-reason" if silent else "empty-reason" * self._only_ends(done.flac)
            if lacking:
                put_aside(done.flac)
            flac = None if lacking else done.flac
            command = c.FinishNote(done.note, flac, done.seconds, done.dropouts, done.cut_short)
            return job.do(command), lacking

        def finished(found) -> None:
            events, lacking = found
            self._place.set_notice("microphone", None)
            for event in events:
                notice = n.event_notice(event)
                if event.kind == "note-lost" and asked:
                    notice = n.told(lacking or "silent-reason")
                if notice is not None:
                    self._place.tell(notice)
            self._place.recounting.recorded(events, False)
            self._place.transcribing.look()
            then()
            if reason is not None and events[-1].kind == "note-recorded":
                self._place.do(reason(SPOKEN_REASON.format(note=events[-1].body["note"])), self._place.home)
            self._place.changed()

        self._place.worker.run(work, finished, self._place.refused)

    def _only_ends(self, note: Path) -> bool:
        """Whether the words that end a note are all that is said in it, as far as it is understood."""
        from evidence_app.voice.understanding.transcript import says_only_its_end

        try:
            return says_only_its_end(note, self._place.engine.get())
        except EvidenceError:  # without the model its sound is what there is to go by
            return False

    def try_microphone(self, problem: Callable[[EvidenceError], None]) -> None:
        """Let the meter hear the microphone; nothing is recorded."""
        spec = self._microphone_spec()
        if self._place.practice and self._microphone_named is None:
            spec = "practice:One two three four five six seven eight nine ten."

        def work():
            from evidence_app.voice.levels import LevelMeter

            microphone, meter = self.open_microphone(spec), LevelMeter()
            microphone.start(meter.feed)
            return microphone, meter

        def done(found) -> None:
            self.microphone, self.meter = found

        self._place.worker.run(work, done, problem, thread="camera")

    def end_trial(self) -> None:
        microphone, self.microphone, self.meter = self.microphone, None, None
        if microphone is not None:
            self._place.worker.run(microphone.stop, thread="camera")
        self._place.set_notice("microphone", None)

    def open_microphone(self, spec: str):
        """Shared by all who hear ``spec``; not yet started. Raises DeviceError."""
        if spec.startswith("practice:"):
            import evidence_app.practice.microphone  # noqa: F401  registers itself
        with self._sharing:
            if self._shared is None:
                from evidence_app.devices.named import open_microphone
                from evidence_app.devices.shared import SharedMicrophones

                self._shared = SharedMicrophones(lambda spec: open_microphone(spec, self.loudspeaker))
        return self._shared.microphone(spec)

    def listening_spec(self) -> str:
        """For spoken commands; in practice too it is the real one, unless one was named."""
        return self._microphone_named or self._place.settings.microphone

    # --- both ----------------------------------------------------------------------------

    def look(self) -> None:
        """Show whether the devices in use are there."""
        if self.camera is not None:
            status = self.camera.status()
            self._place.set_notice(
                "camera", n.camera_notice(status.present, status.message, self.camera.not_taken)
            )
        if self.microphone is not None:
            status = self.microphone.status()
            heard = status.present or (self.recorder is not None and self.recorder.seconds > 0)
            self._place.set_notice(
                "microphone", n.microphone_notice(heard, status.message, self.recorder is not None)
            )

    def end(self) -> None:
        self.end_camera()
        if self.recorder is not None:
            self.end_note(lambda: None)
        else:
            self.end_trial()

    def heard(self, news) -> None:
        """From a device's thread: a loss or return goes into the journal."""
        self._place.worker.report(lambda: self._record(news))

    def _record(self, news) -> None:
        job = self._place.job
        if job is None or job.state.phase not in ("preparing", "working", "stopped"):
            return
        self._place.do(c.ReportDevice(news))

    def _camera_spec(self, wanted: str | None) -> str:
        if self._camera_named is not None:
            return self._camera_named
        rehearsal = self._rehearsal()
        if rehearsal is not None:
            return f"practice:{rehearsal.scene(self._place.job, wanted)}"
        return "practice:front?seed=1" if self._place.practice else self._place.settings.camera

    def _microphone_spec(self) -> str:
        if self._microphone_named is not None:
            return self._microphone_named
        rehearsal = self._rehearsal()
        if rehearsal is not None:
            return f"practice:{rehearsal.words(self._place.job)}"
        return self._place.settings.microphone

    def _rehearsal(self):
        if not self._place.practice or self._place.job is None:
            return None
        from evidence_app.tablet.eye.rehearsal import rehearsal_for

        return rehearsal_for(self._place.job)
