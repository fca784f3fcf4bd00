"""Listens while a job is open: sound in, answers out. Knows no job and no screen.

``feed`` costs little and is called from the microphone's thread; recognising runs on a
thread of the listener. While the app speaks, and a moment after, nothing is listened to,
so that its own voice is never taken for a command, but for what is left of the sound when
the app's own was taken out of it and a person speaks (``interrupting``).
"""

import queue
import threading
import time
from collections.abc import Callable
from typing import Literal

import numpy as np

from evidence_app.errors import EvidenceError
from evidence_app.sentence import sentence
from evidence_app.voice.interrupting.yielding import Yielding
from evidence_app.voice.understanding import grammar as g
from evidence_app.voice.understanding.dialogue import Answer, Dialogue
from evidence_app.voice.understanding.endpoint import Endpointer, Utterance
from evidence_app.voice.understanding.recogniser import Recogniser
from evidence_app.voice.understanding.words import ENGLISH, Lexicon

Sign = Literal["off", "listening", "hearing", "speaking"]

AFTER_SPEAKING_S = 0.3  # for the room and the loudspeaker's buffer
TOO_LONG = sentence("That was too long for a command. Say one of the phrases, or begin a voice note.")
COMPLAINS_EVERY_S = 60.0  # of sound that does not end, a radio for instance
_TICK_S = 0.25
_MAY_GO_ON = ("reading", g.CONFIRM, g.UNSURE, g.NEAR_STOP)
_MOST_WAITING = 8  # utterances; a slow machine drops the oldest rather than act late


class Listener:
    """``allowed`` is asked at each utterance; ``tell`` gets every Answer, on the listener's
    thread; ``failed`` an error after which the listener is off.

    ``start``, ``feed`` each block, ``stop``. ``app_speaks(True)`` before the app's own
    voice, ``app_speaks(False)`` after it. ``yielding``: None where it cannot hear meanwhile.
    """

    def __init__(
        self,
        recogniser: Recogniser,
        allowed: Callable[[], g.Allowed],
        tell: Callable[[Answer], None],
        failed: Callable[[EvidenceError], None] | None = None,
        words: Lexicon = ENGLISH,
        now_s: Callable[[], float] = time.monotonic,
        yielding: Yielding | None = None,
    ) -> None:
        self._recogniser = recogniser
        self._allowed = allowed
        self._tell = tell
        self._failed = failed
        self._words = words
        self._now_s = now_s
        self._dialogue = Dialogue(words)
        self._ends = Endpointer(near=True)
        self.yielding = yielding
        self._overheard = -1  # the utterance that was begun while the app spoke
        self._ear = threading.Lock()  # of the endpointer and of what follows
        self._deaf_until = 0.0
        self._app_speaks = False
        self._asked: tuple | None = None
        self._text = ""  # the answer to it
        self._complains_again = float("-inf")
        self._taken = 0  # the utterance that was acted on at its pause
        self._waiting: queue.Queue[Utterance] = queue.Queue(_MOST_WAITING)
        self._running = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def sign(self) -> Sign:
        """For the sign on the screen."""
        if not self._running.is_set():
            return "off"
        if self._deaf:
            return "speaking"
        return "hearing" if self._ends.hearing else "listening"

    @property
    def busy(self) -> bool:
        """Whether somebody is speaking, or an utterance is not answered yet."""
        return self._running.is_set() and (self._ends.under_way or bool(self._waiting.unfinished_tasks))

    def start(self) -> None:
        if self._running.is_set():
            return
        self.lost()
        self._running.set()
        self._thread = threading.Thread(target=self._run, name="listener", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """No answer is told after it returns, unless it is called from ``tell``."""
        self._running.clear()
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join()
        self._dialogue.forget()

    def feed(self, block: np.ndarray, played: np.ndarray | None = None) -> None:
        """int16 at 16 kHz, shape (n,). ``played``: what the app played meanwhile."""
        if not self._running.is_set():
            return
        with self._ear:
            if self._deaf:
                if self.yielding is None or played is None or len(played) != len(block):
                    return
                block = self.yielding.feed(block, played)
            found = self._ends.feed(block)
            if self.yielding and self.yielding.loudspeaker.paused and self._ends.under_way:
                self._overheard = self._ends.number
        for utterance in found:
            self._put(utterance)

    @property
    def _deaf(self) -> bool:
        return self._app_speaks or self._now_s() < self._deaf_until

    def app_speaks(self, on: bool) -> None:
        with self._ear:
            if self._app_speaks and not on:
                self._deaf_until = self._now_s() + AFTER_SPEAKING_S
                self._dialogue.heard_out(self._deaf_until)
            # What was said until now is not thrown away.
            found = self._ends.flush() if on and not self._app_speaks else []
            self._app_speaks = on
            self._ends.reset()
        for utterance in found:
            self._put(utterance)

    def lost(self) -> None:
        """The microphone went away or the sound has a gap: half an utterance is none."""
        with self._ear:
            self._ends.reset()
        while self._drop_oldest():
            pass

    def finish(self) -> None:
        """The sound is over: what was said last is taken too, before it returns."""
        with self._ear:
            found = self._ends.flush()
        for utterance in found:
            self._put(utterance)
        while self._running.is_set() and self._waiting.unfinished_tasks:
            time.sleep(0.01)

    def answered(self) -> None:
        """Touch or a key has answered or moved on: no spoken answer is awaited any more."""
        self._dialogue.forget()

    def take(self, utterance: Utterance) -> Answer | None:
        """What follows from one utterance; None for a pause that may yet go on."""
        allowed = self._allowed()
        if utterance.number == self._overheard:
            allowed = g.while_it_speaks(allowed)
        if utterance.kind == "cut":
            if self._now_s() < self._complains_again:
                return None
            self._complains_again = self._now_s() + COMPLAINS_EVERY_S
            return Answer("refused", sentence=TOO_LONG, code="too-long")
        question = self._dialogue.question
        phrases = g.phrases_for(allowed, question, self._words)
        # At the end of what paused and did not go on there is nothing new to recognise.
        asked = (utterance.number, len(utterance.samples), allowed.place, tuple(phrases))
        if asked != self._asked:
            self._text = self._recogniser.hear(utterance.samples, phrases, allowed.reading)
            self._asked = asked
        text = self._text
        if utterance.kind == "pause":
            said = g.understand(text, allowed, question, self._words)
            # A value may go on after a breath, a yes with "except", half a stop; a phrase is whole.
            if not isinstance(said, g.Said) or said.action in _MAY_GO_ON:
                return None
            with self._ear:
                if self._ends.speaking(utterance.number):
                    return None
                self._taken = utterance.number
        return self._dialogue.hear(text, allowed, self._now_s())

    def _put(self, utterance: Utterance) -> None:
        while True:
            try:
                self._waiting.put_nowait(utterance)
                return
            except queue.Full:
                self._drop_oldest()

    def _drop_oldest(self) -> bool:
        try:
            self._waiting.get_nowait()
        except queue.Empty:
            return False
        self._waiting.task_done()
        return True

    def _run(self) -> None:
        try:
            while self._running.is_set():
                self._next()
        except EvidenceError as error:
            self._running.clear()
            if self._failed:
                self._failed(error)

    def _next(self) -> None:
        try:
            utterance = self._waiting.get(timeout=_TICK_S)
        except queue.Empty:
            answer = None if self._app_speaks else self._dialogue.tick(self._now_s())
            self._answer(answer)
            return
        try:
            if utterance.number != self._taken:
                self._answer(self.take(utterance))
        finally:
            self._waiting.task_done()

    def _answer(self, answer: Answer | None) -> None:
        if answer is not None and self._running.is_set():
            self._tell(answer)
