"""Reading aloud, through the espeak-ng of the system. Without it the app goes on, silent.

One thread speaks, one text at a time and one sentence of it after the other. ``speaking``
is told before the first sound of each and after its last, so that the listener closes its
ears meanwhile and opens them in the gap between two sentences: whoever wants to stop the
repair need not wait for the end of a long text. A text is begun, and gone on with, only
while nobody speaks.
"""

import contextlib
import queue
import re
import shutil
import subprocess
import threading
import time
from collections.abc import Callable

import numpy as np
import soxr

from evidence_app.errors import VoiceError
from evidence_app.sentence import Sentence, sentence
from evidence_app.voice.interrupting.loudspeaker import Loudspeaker
from evidence_app.voice.note.wav import HEADER_BYTES, RATE

SPEEDS = (90, 260)  # words a minute
_LONGEST_S = 120.0  # a text that takes longer hangs
GAP_S = 0.7  # between sentences, after what the room and the loudspeaker still give
_LOOK_EVERY_S = 0.05
# For a person who goes on speaking. What goes on without a pause is a noise: the endpointer
# takes it for a part of the place after ten seconds.
_LONGEST_WAIT_S = 12.0
_SHORT = 40  # characters of a sentence that is spoken with the next
_WORDS = 150
_VOLUME = 100


class Prompter:
    """``say`` gives back at once. ``program``: a name to look for, or a path.

    ``speed`` in words a minute (90 to 260), ``volume`` from 0 to 100; both may be set at
    any time. ``heard`` answers whether somebody is speaking; ``room_s`` is how long the ears
    stay closed after each sentence. What is not played through an open ``loudspeaker`` is
    played by espeak-ng itself. ``problem`` is told once, when nothing can be read aloud; ``say``
    then does nothing.
    """

    def __init__(
        self,
        speaking: Callable[[bool], None] | None = None,
        problem: Callable[[VoiceError], None] | None = None,
        voice: str = "en",
        program: str = "espeak-ng",
        heard: Callable[[], bool] = lambda: False,
        room_s: float = 0.0,
    ) -> None:
        self._program = shutil.which(program)
        self._speaking = speaking or (lambda _on: None)
        self._problem = problem
        self._voice = voice
        self._heard = heard
        self.loudspeaker: Loudspeaker | None = None
        self._gap_s = room_s + GAP_S
        self.speed, self.volume = _WORDS, _VOLUME
        self._texts: queue.Queue[tuple[str, Callable[[], None] | None, int] | None] = queue.Queue()
        self._lock = threading.Lock()
        self._process: subprocess.Popen | None = None
        self._hushed = 0
        self._thread = threading.Thread(target=self._run, name="prompter", daemon=True)
        self._thread.start()
        if self._program is None:
            self._fail(
                sentence("espeak-ng is not installed; nothing is read aloud"),
                sentence("install the system package espeak-ng, or read the screen"),
            )

    def say(self, text: str, then: Callable[[], None] | None = None) -> None:
        """Speak ``text`` after what is being said; ``then`` is called when it was said,
        and also when it was hushed or cannot be said."""
        if self._program is None or not text.strip():
            if then:
                then()
            return
        self._texts.put((text, then, self._hushed))

    def hush(self) -> None:
        """Stop speaking and forget what was still to be said."""
        with self._lock:
            self._hushed += 1
            if self._process is not None:
                self._process.kill()
        with contextlib.suppress(queue.Empty):
            while True:
                waiting = self._texts.get_nowait()
                if waiting is not None and waiting[1]:
                    waiting[1]()

    def close(self) -> None:
        self.hush()
        self._texts.put(None)
        self._thread.join()

    def _run(self) -> None:
        while (asked := self._texts.get()) is not None:
            text, then, hushed = asked
            try:
                for place, told in enumerate(_sentences(text)):
                    self._wait(self._gap_s if place else 0.0, hushed)
                    if hushed != self._hushed or self._program is None:
                        break
                    self._speaking(True)
                    try:
                        self._speak(told, hushed)
                    finally:
                        self._speaking(False)
            finally:
                if then:
                    then()

    def _wait(self, seconds: float, hushed: int) -> None:
        """At least so long, and until nobody speaks."""
        began = time.monotonic()
        while hushed == self._hushed and (
            (waited := time.monotonic() - began) < seconds or (self._heard() and waited < _LONGEST_WAIT_S)
        ):
            time.sleep(_LOOK_EVERY_S)

    def _speak(self, text: str, hushed: int) -> None:
        if self._program is None:
            return
        # By standard input, since a text may begin with a dash.
        speed, volume = min(max(self.speed, SPEEDS[0]), SPEEDS[1]), min(max(self.volume, 0), 100)
        command = [self._program, "-v", self._voice, "-s", str(speed), "-a", str(volume), "--stdin"]
        own = self.loudspeaker if self.loudspeaker is not None and self.loudspeaker.open else None
        command += ["--stdout"] if own else []
        sound = b""
        try:
            with self._lock:
                if hushed != self._hushed:
                    return
                self._process = subprocess.Popen(
                    command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
                )
            try:
                sound, _ = self._process.communicate(text.encode(), timeout=_LONGEST_S)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.communicate()
            failed = self._process.returncode != 0 and hushed == self._hushed
        except OSError:
            failed = True
        finally:
            with self._lock:
                self._process = None
        if own and sound:
            self._play(own, sound_of(sound), hushed)
        if failed:
            self._program = None
            self._fail(
                sentence("espeak-ng does not work on this machine; nothing is read aloud"),
                sentence("check the loudspeaker and the system package espeak-ng"),
            )

    def _play(self, loudspeaker: Loudspeaker, sound: np.ndarray, hushed: int) -> None:
        """Until it was played or hushed; silent while a person speaks into it."""
        loudspeaker.play(sound)
        while loudspeaker.busy and hushed == self._hushed:
            if loudspeaker.paused:
                self._wait(self._gap_s, hushed)
                loudspeaker.paused = False
            time.sleep(_LOOK_EVERY_S)
        loudspeaker.play(sound[:0])

    def _fail(self, what: Sentence, remedy: Sentence) -> None:
        if self._problem:
            self._problem(VoiceError(what, remedy=remedy))


def sound_of(wav: bytes) -> np.ndarray:
    """What espeak-ng writes to its standard output: int16 at 16 kHz, shape (n,). Its header
    does not know the length."""
    rate = int.from_bytes(wav[24:28], "little") or RATE  # of nothing there is no header
    return soxr.resample(np.frombuffer(wav[HEADER_BYTES:], "<i2"), rate, RATE)


def _sentences(text: str) -> list[str]:
    """Short ones together with the next, so that a number or a title does not stand alone."""
    found: list[str] = []
    for part in re.split(r"(?<=[.!?])\s+", text.strip()):
        if found and len(found[-1]) < _SHORT:
            found[-1] += f" {part}"
        else:
            found.append(part)
    return found
