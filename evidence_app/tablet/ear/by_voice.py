"""Carries out what was said: commands of the job, and what only the screens can do.

Touch, key and voice end in the same place: a command goes through ``Workplace.do``, a
photo through the camera screen's shutter, a note through the note screen's plates.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any, Protocol

from msgspec.structs import replace

from evidence_app.errors import EvidenceError
from evidence_app.job import commands as c
from evidence_app.job.rules.owed import owed_now
from evidence_app.job.speech.spoken import TOO_LATE, command_of
from evidence_app.sentence import Sentence, sentence, verbatim
from evidence_app.tablet.ear.hearing import TAKE_BACK_S
from evidence_app.tablet.presenting import voice as shown
from evidence_app.tablet.presenting.problem import problem_words

if TYPE_CHECKING:
    from evidence_app.voice.understanding.dialogue import Answer

FRAME_IT = sentence("Frame it, then say: take the photo.")
NO_PICTURE = sentence("There is no picture yet. Say it again in a moment.")
NO_PHOTO = sentence("No photo is asked for here.")
NO_NOTE = sentence("No voice note is being recorded.")
FINISH = sentence("Nothing is missing. Look it over, then say: close the job.")
GONE = sentence("That is not on the screen any more.")
RECORDED = sentence("Recorded.")
_READ = ("read-step", "read-cautions", "owed", "time-left", "help")


class _Frame(Protocol):
    """What it needs of the window: the workplace, the way between screens, their plates."""

    place: Any
    screens: Any

    def go(self, name: str, **given: Any) -> None: ...

    def home(self) -> None: ...

    def act(self, action: str) -> bool: ...


class ByVoice:
    """``do`` takes an answer of kind "do"."""

    def __init__(self, frame: _Frame) -> None:
        self._frame = frame
        self._place = frame.place
        self._hearing = frame.place.hearing
        self._own: dict[str | None, Callable[[Answer], None]] = {
            **dict.fromkeys(_READ, self._read),
            **dict.fromkeys(("photo", "retake"), self._photo),
            "start-note": self._start_note,
            "end-note": self._end_note,
            "wait": lambda answer: self._hearing.show_card(
                shown.answer_card(answer, answer.sentence)
            ),  # it was silenced when it was heard
            "all-here": self._tick_all,
        }

    def do(self, answer: Answer) -> None:
        self._hearing.drop_later()
        if answer.action in self._own:
            self._own[answer.action](answer)
        elif answer.action in self._hearing.plates:
            self._press(answer)
        elif answer.action == "leave":
            self._frame.screens.current_screen.pause()
        elif answer.action in ("keep-photo", "abandon"):
            self._ask_reason(answer)
        elif self._place.job is None:
            self._frame.screens.current_screen.spell(answer.reading, answer.value)
            self._tell(answer, answer.sentence)
        elif answer.action in ("mute", "unmute"):
            self._hearing.mute(answer.action == "mute")
            self._tell(answer, answer.sentence)
        else:
            self._command(answer, answer.action, lambda: self._done(answer))

    def _command(self, answer: Answer, action: str | None, then: Callable[[], None]) -> None:
        job = self._place.job
        command = command_of(replace(answer, action=action), job.state, job.now())
        if command is None:
            self._hearing.refuse(answer, TOO_LATE)
            return

        def refused(error: EvidenceError) -> None:
            self._hearing.refuse(answer, verbatim(problem_words(error)))

        self._place.do(command, then, refused, spoken=True)

    def _tick_all(self, answer: Answer) -> None:
        """One after the other, each an entry of its own."""
        left = next((each for each in self._hearing.allowed().own if each.startswith("tick ")), None)
        if left is None:
            self._done(answer)
        else:
            self._command(answer, left, lambda: self._tick_all(answer))

    def _press(self, answer: Answer) -> None:
        if self._frame.act(answer.action or ""):
            self._tell(answer, answer.sentence)
        else:
            self._hearing.refuse(answer, GONE)

    def _ask_reason(self, answer: Answer) -> None:
        """The sound of a note is the reason; nothing is done when there is none in it."""
        reason: Callable[[str], c.Command] = c.Abandon
        photo = None
        if answer.action == "keep-photo":
            photo = next((o.photo for o in self._place.job.owed if o.photo), None)
            if photo is None:
                self._hearing.refuse(answer, NO_PHOTO)
                return
            reason = partial(c.KeepPhoto, photo)
        self._frame.go("note", reason=reason, photo=photo)
        self._tell(answer, answer.sentence, lambda: self._frame.act("start-note"))

    # --- the job's commands ---------------------------------------------------------------

    def _done(self, answer: Answer) -> None:
        job = self._place.job
        if answer.action == "next" and job.state.phase == "working" and job.ready:
            self._frame.go("finish")
            self._hearing.show_card(shown.answer_card(answer, FINISH))
            self._place.speaking.answer(FINISH)
            return
        if answer.action == "start-hold":
            self._frame.go("hold")
        elif answer.action == "end-hold":
            self._frame.go("step")
        else:
            self._frame.home()
        takeable = answer.action != "take-back" and job.state.can_take_back(job.now()) is not None
        card = shown.done_card(answer, takeable)
        self._hearing.show_card(card, TAKE_BACK_S if takeable else 7.0)
        # Short, since what was read back was said already and 5 seconds are soon over.
        short = RECORDED if answer.confirmed and answer.action != "stop-repair" else answer.sentence
        self._place.speaking.answer(short)

    def take_back(self) -> None:
        """The card's plate: as if it were said."""
        from evidence_app.voice.understanding.dialogue import ECHOES, Answer

        self.do(Answer("do", "take-back", sentence=ECHOES["take-back"]))

    # --- reading aloud ----------------------------------------------------------------------

    def _read(self, answer: Answer) -> None:
        from evidence_app.job.speech.aloud import aloud, help_aloud

        action = answer.action or ""
        job, allowed = self._place.job, self._hearing.allowed()
        if action != "help" and job.state.phase == "preparing" and action in ("read-cautions", "read-step"):
            self._place.recounting.prepare(spoken=True, again=True)
            return
        text = (
            help_aloud(allowed) if action == "help" else aloud(action, job.step_list, job.state, job.now())
        )
        card = shown.told_card(answer, text, job and job.step_list, job and job.state, allowed)
        self._hearing.show_card(card, None if action == "help" else 20.0)
        self._place.speaking.answer(text)

    # --- photos -----------------------------------------------------------------------------

    def _photo(self, answer: Answer) -> None:
        again = answer.action == "retake"
        if self._frame.screens.current == "camera":
            camera = self._place.sensing.camera
            if camera is None or camera.latest() is None or not self._frame.act("shutter"):
                self._hearing.refuse(answer, NO_PICTURE)
                return
            self._tell(answer, sentence("Taking the photo."))
            return
        wanted = self._wanted(again)
        if wanted is None:
            self._hearing.refuse(answer, NO_PHOTO)
            return
        self._frame.go("camera", wanted=wanted)
        self._tell(answer, FRAME_IT)

    def _wanted(self, again: bool) -> str | None:
        """The photo to be taken now: the one just looked at, or the first that is owed."""
        job = self._place.job
        taken = [p for p in job.state.photos if p.step == job.state.step and p.wanted]
        owed = [o.id for o in owed_now(job.step_list, job.state) if o.kind == "photo"]
        last = taken[-1].wanted if taken else None
        if again and last is not None:
            return last
        return owed[0] if owed else last

    # --- notes ------------------------------------------------------------------------------

    def _start_note(self, answer: Answer) -> None:
        self._frame.go("note")
        # The app's own voice has no place in the note: it begins when the word is said.
        self._tell(answer, answer.sentence, lambda: self._frame.act("start-note"))

    def _end_note(self, answer: Answer) -> None:
        def ended() -> None:
            self._frame.home()
            self._tell(answer, answer.sentence)

        if self._place.sensing.recorder is None:
            self._hearing.refuse(answer, NO_NOTE)
        else:
            self._place.sensing.end_note(ended, getattr(self._frame.screens.current_screen, "reason", None))

    def _tell(self, answer: Answer, told: Sentence, then: Callable[[], object] = lambda: None) -> None:
        self._hearing.show_card(shown.answer_card(answer, told))
        self._place.speaking.answer(told, then)
