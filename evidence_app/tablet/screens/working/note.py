"""A note, spoken or written, bound to the step."""

from evidence_app.job import commands as c
from evidence_app.language import say
from evidence_app.tablet.presenting import notices
from evidence_app.tablet.presenting.working.note import level_words, quiet_words
from evidence_app.tablet.screens.base import BaseScreen, plate
from evidence_app.tablet.widgets import Words
from evidence_app.tablet.widgets.level import LevelBar


class NoteScreen(BaseScreen):
    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._clock = Words(role="huge", halign="center")
        self._level = Words(role="body", halign="center", tone="brass")
        self._bar = LevelBar()
        self._quiet = Words(role="body", halign="center")

    def enter(self, reason=None, photo: str | None = None) -> None:
        """``reason``: the command that the note is the reason of, made of words; ``photo``: what
        the note is about."""
        super().enter()
        self._busy, self.reason, self._photo = False, reason, photo
        self.place.actions["write-note"] = self._write
        self.every(0.1, self._tick)

    def show(self) -> None:
        recording = self.place.sensing.recorder is not None
        if not self.differs(recording, self._busy):
            return
        if recording:
            self.titled(say("Speak now"), self._clock, self._bar, self._level, self._quiet)
            words = self.phrased(say("End the note"), "end-note")
            end = plate(words, "end-note", self._end, "main", "note")
            end.disabled = self._busy
            self.fill_row(end)
            return
        told = say("Spoken notes stay on this tablet and in the package. They are kept as they were said.")
        self.titled(say("A note for this step"), Words(text=told))
        words = self.phrased(say("Start recording"), "start-note")
        speak = plate(words, "start-note", self._start, "main", "note")
        speak.disabled = self._busy
        self.fill_row(
            self.back_plate(self.frame.home),
            speak,
            plate(say("Write it"), "write-note", self._write, mark="pencil"),
            None
            if self.job.state.phase == "stopped"
            else plate(say("Add a photo"), "photo-note", self.door("camera"), mark="shutter"),
        )

    def _tick(self) -> None:
        recorder, meter = self.place.sensing.recorder, self.place.sensing.meter
        if recorder is None or meter is None:
            return
        minutes, seconds = divmod(int(recorder.seconds), 60)
        self._clock.text = f"{minutes}:{seconds:02d}"
        level = meter.level()
        self._bar.fill((level.rms_dbfs + 60) / 60)
        self._level.text = level_words(level.sentence, level.rms_dbfs)
        left = self._left()
        self._quiet.text = quiet_words(left, recorder.dropouts)
        if left == 0 and not self._busy:
            self._end()
            self.place.tell(notices.told("quiet"))

    def _left(self) -> float | None:
        """Seconds until the note ends by itself, None when it does not."""
        end = self.place.sensing.note_end
        return end.left_s if end is not None and self.place.settings.note_ends else None

    def _start(self) -> None:
        if not notices.room_for_more(self.place.free_bytes()):
            self.place.look_at_machine()
            return
        self.place.sensing.start_note(self.show, self._photo)

    def _end(self) -> None:
        self._busy = True
        self.show()
        self.place.sensing.end_note(self.frame.home, self.reason)

    def _write(self) -> None:
        home = self.frame.home
        self.ask(say("The note, written"), lambda text: self.place.do(c.WriteNote(text), home), home)
