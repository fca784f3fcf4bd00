"""Listens for spoken commands, and keeps the sign and the card.

Knows no Kivy. Called on the UI thread; sound comes on the microphone's thread, answers on
the listener's, and both are handed over through the worker. What an answer does is
``carry_out``'s, which the frame sets.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from msgspec.structs import replace

from evidence_app.errors import EvidenceError
from evidence_app.language import say
from evidence_app.sentence import NOTHING, Sentence, sentence
from evidence_app.tablet.place import Place
from evidence_app.tablet.presenting import notices as n
from evidence_app.tablet.presenting import voice as shown

if TYPE_CHECKING:
    from evidence_app.voice.understanding.dialogue import Answer
    from evidence_app.voice.understanding.grammar import Allowed, AskedReading

_log = logging.getLogger(__name__)

HEARD_S = 2.5  # how long the sign shows what was heard
CARD_S = 7.0
TAKE_BACK_S = 5.0
_OPENING_S = 2.5  # before an absent microphone is called so
REJECTED = sentence("Nothing was recorded. Say it again.")
ENDED = sentence("Voice control is off. Touch the sign to turn it on again.")


class Hearing:
    """``card`` is what the screen shows of the last command, None when nothing. ``plates``: the
    actions of those on the screen that can be said, with phrases of their own where they have
    some; ``spelled``: what can be spelled there while no job is open."""

    def __init__(self, place: Place) -> None:
        self._place = place
        self.carry_out: Callable[[Answer], None] = lambda _: None
        self.plates: dict[str, tuple[str, ...]] = {}
        self.spelled: AskedReading | None = None
        self.card: shown.CardShown | None = None
        self.listener = None
        self.microphone = None
        self.meter = None
        self._off = ""  # why it does not listen
        self._helps = NOTHING
        self._starting = False
        self._started_at = 0.0
        self._heard, self._heard_until, self._other = "", 0.0, False
        self._card_until: float | None = None
        self._asked: Answer | None = None
        self._gaps = 0
        self._muted = False
        self._later: list[tuple[float, Callable[[], None]]] = []
        self._speaking = 0  # sounds of the app's own that are going on

    # --- on and off -----------------------------------------------------------------------

    def begin(self) -> None:
        """Nothing is asked any more; begin to listen where it does not, when the settings say so."""
        self.clear()
        if self._place.settings.listening:
            self.start()
        else:
            self._off = "settings"

    def end(self) -> None:
        self._end("")
        self.clear()

    def toggle(self) -> None:
        """One touch on the sign: silence the voice, end the listening, or begin it."""
        if self._place.speaking.going:
            self._place.speaking.hush()
        elif self.listener is None and not self._starting:
            self.start()
        else:
            self.end_by_person()

    def end_by_person(self) -> None:
        self._end("ended")
        self.show_card(shown.CardShown("", say(ENDED), (), "clay"))
        self._place.speaking.answer(ENDED)

    def mute(self, on: bool) -> None:
        """Hear nothing but a stop and what ends this, or everything again."""
        self._muted = on
        self._place.changed()

    def start(self) -> None:
        if self._starting or self.listener is not None:
            return
        self._starting = True
        spec = self._place.sensing.listening_spec()
        allowed = self.allowed

        def work():
            from evidence_app.voice.interrupting.canceller import Canceller, library
            from evidence_app.voice.interrupting.yielding import Yielding
            from evidence_app.voice.levels import LevelMeter
            from evidence_app.voice.understanding.listener import Listener

            recogniser = self._place.engine.get()
            microphone = self._place.sensing.open_microphone(spec)
            yielding = Yielding(Canceller(), self._place.sensing.loudspeaker) if library() else None
            listener = Listener(recogniser, allowed, self._told, self._failed, yielding=yielding)
            return listener, microphone, LevelMeter()

        self._place.worker.run(work, self._started, self._not_started, thread="voice")

    def _started(self, found) -> None:
        if not self._starting:  # ended before it had begun
            return
        self._starting = False
        self.listener, self.microphone, self.meter = found
        self._off, self._started_at, self._gaps = "", time.monotonic(), 0
        self._muted = False
        listener, microphone, meter = found

        def block(samples) -> None:
            meter.feed(samples)
            # A gap in the sound can make another word of two halves.
            if microphone.dropouts() != self._gaps:
                self._gaps = microphone.dropouts()
                listener.lost()
            listener.feed(samples, self._place.sensing.loudspeaker.played)

        microphone.listen(lambda _: listener.lost())
        microphone.listen(self._place.sensing.heard)
        listener.app_speaks(self._speaking > 0)

        def work() -> None:
            listener.start()
            microphone.start(block)

        self._place.worker.run(work, failed=self._not_started, thread="voice")
        self._place.changed()

    def _not_started(self, error: EvidenceError) -> None:
        from evidence_app.errors import VoiceError

        self._starting = False
        self._end("engine" if isinstance(error, VoiceError) else "microphone")
        if isinstance(error, VoiceError) and isinstance(error.remedy, Sentence):
            self._helps = error.remedy
        self._place.tell(n.told("listening", why=error.sentence(say=say)))

    def _failed(self, error: EvidenceError) -> None:
        """On the listener's thread: the engine failed in the middle."""
        self._place.worker.report(lambda: self._not_started(error))

    def _end(self, reason: str) -> None:
        self._helps = NOTHING
        self._off, self._starting = reason, False
        listener, microphone = self.listener, self.microphone
        self.listener = self.microphone = self.meter = None
        self._asked, self._later = None, []
        if listener is not None:

            def work() -> None:
                microphone.stop()
                listener.stop()

            self._place.worker.run(work, thread="voice")
        self._place.changed()

    def own_sound(self, on: bool) -> None:
        """The app speaks or plays a note: it does not listen meanwhile. From any thread."""
        self._speaking += 1 if on else -1
        listener = self.listener
        if listener is not None:
            listener.app_speaks(self._speaking > 0)

    def hears(self) -> bool:
        """Whether a person is speaking, or has spoken and is not answered yet. From any
        thread."""
        listener = self.listener
        return listener is not None and listener.busy

    # --- the sign ---------------------------------------------------------------------------

    def sign(self) -> shown.SignShown:
        return shown.sign_shown(self.state(), self._off, self._heard, self._helps)

    def state(self) -> str:
        """As ``presenting.voice.sign_shown`` takes it."""
        if self._starting:
            return "starting"
        if self._place.speaking.going:
            yielding = self.listener.yielding if self.listener is not None else None
            return "interruptible" if yielding is not None and yielding.canceller.armed else "speaking"
        if self.listener is None:
            return "off"
        if not self.microphone.status().present:
            if time.monotonic() < self._started_at + _OPENING_S:
                return "starting"
            self._off = "lost"
            return "off"
        if self._place.sensing.recorder is not None:
            return "noting"
        if self._muted:
            return "muted"
        if time.monotonic() < self._heard_until:
            return "other" if self._other else "heard"
        sign = self.listener.sign
        return sign if sign != "off" else "starting"

    def level(self) -> float:
        """How loud it is, from 0 to 1, for the sign's bar."""
        meter = self.meter
        return min(1.0, max(0.0, (meter.level().rms_dbfs + 60) / 60)) if meter is not None else 0.0

    # --- the card ---------------------------------------------------------------------------

    def show_card(self, card: shown.CardShown | None, for_s: float | None = CARD_S) -> None:
        """``for_s`` None: until it is touched or another comes."""
        self.card = card
        self._card_until = None if for_s is None else time.monotonic() + for_s
        self._place.changed()

    def clear(self) -> None:
        """Nothing is asked and nothing shown any more."""
        self._asked = None
        if self.listener is not None:
            self.listener.answered()
        self.show_card(None)

    def moved_on(self, events) -> None:
        """Something was recorded by touch or key: what was asked aloud is void."""
        from evidence_app.job.state.job_state import BESIDE

        if self._asked is not None and any(e.kind not in BESIDE for e in events):
            self.clear()

    def later(self, seconds: float, call: Callable[[], None]) -> None:
        """``call`` after so long, unless the listening or the job ends, or ``drop_later``."""
        self._later.append((time.monotonic() + seconds, call))

    def drop_later(self) -> None:
        self._later = []

    def tick(self) -> None:
        """Some times a second."""
        now = time.monotonic()
        if self.card is not None and self._card_until is not None and now >= self._card_until:
            self.show_card(None)
        if self.hears():  # what nobody asked for waits
            return
        due = [call for at, call in self._later if now >= at]
        self._later = [(at, call) for at, call in self._later if now < at]
        for call in due:
            call()

    # --- answers ----------------------------------------------------------------------------

    def allowed(self) -> Allowed:
        """What may be said now; asked on the listener's thread."""
        from evidence_app.job.speech.spoken import allowed_now
        from evidence_app.voice.understanding.grammar import Allowed

        job, speaking = self._place.job, self._place.speaking
        if job is None:
            open_now = frozenset({"unmute"} if self._muted else {"mute", "help"})
            now = Allowed("", open_now, self.spelled, silent=self._muted)
        else:
            told = speaking.recited
            now = allowed_now(job.step_list, job.state, job.now(), muted=self._muted, told=told)
        if now.silent:
            return now
        own = {action: said for action, said in self.plates.items() if said}
        more = {*self.plates.keys() - own, *(("wait",) if speaking.going else ())}
        place = f"{now.place} {sorted(self.plates)}"  # what is asked on one page is void on another
        return replace(now, place=place, actions=now.actions | more, own=now.own | own)

    def confirm(self) -> None:
        """A touch says yes to what was read back, or that the repair is to be stopped."""
        asked = self._asked
        self.clear()
        if asked is not None:
            self._place.speaking.hush()
            self.carry_out(replace(asked, kind="do", confirmed=True))

    def reject(self) -> None:
        self.clear()
        self._place.speaking.hush()
        self.show_card(shown.CardShown("", say(REJECTED), border="clay"))

    def refuse(self, answer: Answer, told: Sentence) -> None:
        """Tell, on the screen and aloud, why it is not done."""
        self.show_card(shown.answer_card(answer, told, "clay"))
        self._place.speaking.answer(told)

    def _told(self, answer: Answer) -> None:
        self._place.worker.report(lambda: self._answered(answer))

    def _answered(self, answer: Answer) -> None:
        if self.listener is None:
            return
        noting = self._place.sensing.recorder is not None
        if noting and answer.action not in ("end-note", "stop-repair"):
            return  # what is said into a note is for the note
        if answer.heard.strip():
            self._heard, self._other = answer.heard, answer.kind == "unheard"
            self._heard_until = time.monotonic() + HEARD_S
        if answer.kind == "unheard":
            return
        self._asked = answer if answer.kind == "ask" else None
        if answer.kind != "lapsed" and answer.code != "too-long":
            self._place.speaking.hush()  # who spoke does not want the rest of what was read
        if answer.kind == "do":
            self.carry_out(answer)
        elif answer.kind == "ask":
            self.drop_later()  # nothing that nobody asked for is told between question and answer
            self.show_card(shown.question_card(answer, self.allowed()), None)
            self._place.speaking.answer(answer.sentence)
        else:
            self.refuse(answer, answer.sentence)
