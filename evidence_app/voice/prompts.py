"""Reading aloud, through the espeak-ng of the system. Without it the app goes on, silent.

One thread speaks, one text at a time. ``speaking`` is told before the first sound and
after the last, so that the listener can close its ears meanwhile.
"""

from __future__ import annotations

import contextlib
import queue
import shutil
import subprocess
import threading
from collections.abc import Callable

from evidence_app.errors import VoiceError

SPEEDS = (90, 260)  # words a minute
_LONGEST_S = 120.0  # a text that takes longer hangs
_WORDS = 150
_VOLUME = 100


class Prompter:
    """``say`` gives back at once. ``program``: a name to look for, or a path.

    ``speed`` in words a minute (90 to 260), ``volume`` from 0 to 100; both may be set at
    any time. ``problem`` is told once, when nothing can be read aloud; ``say`` then does
    nothing.
    """

    def __init__(
        self,
        speaking: Callable[[bool], None] | None = None,
        problem: Callable[[VoiceError], None] | None = None,
        voice: str = "en",
        program: str = "espeak-ng",
    ) -> None:
        self._program = shutil.which(program)
        self._speaking = speaking or (lambda _on: None)
        self._problem = problem
        self._voice = voice
        self._speed, self._volume = _WORDS, _VOLUME
        self._texts: queue.Queue[tuple[str, Callable[[], None] | None] | None] = queue.Queue()
        self._lock = threading.Lock()
        self._process: subprocess.Popen | None = None
        self._hushed = 0
        self._thread = threading.Thread(target=self._run, name="prompter", daemon=True)
        self._thread.start()
        if self._program is None:
            self._fail(
                "espeak-ng is not installed; nothing is read aloud",
                "install the system package espeak-ng, or read the screen",
            )

    @property
    def able(self) -> bool:
        return self._program is not None

    @property
    def speed(self) -> int:
        return self._speed

    @speed.setter
    def speed(self, words_a_minute: int) -> None:
        self._speed = min(max(int(words_a_minute), SPEEDS[0]), SPEEDS[1])

    @property
    def volume(self) -> int:
        return self._volume

    @volume.setter
    def volume(self, percent: int) -> None:
        self._volume = min(max(int(percent), 0), 100)

    def say(self, text: str, then: Callable[[], None] | None = None) -> None:
        """Speak ``text`` after what is being said; ``then`` is called when it was said,
        and also when it was hushed or cannot be said."""
        if not self.able or not text.strip():
            if then:
                then()
            return
        self._texts.put((text, then))

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
            text, then = asked
            self._speaking(True)
            try:
                self._speak(text)
            finally:
                self._speaking(False)
                if then:
                    then()

    def _speak(self, text: str) -> None:
        if not self.able:
            return
        # By standard input, since a text may begin with a dash.
        command = [
            self._program,
            "-v",
            self._voice,
            "-s",
            str(self._speed),
            "-a",
            str(self._volume),
            "--stdin",
        ]
        hushed = self._hushed
        try:
            with self._lock:
                if hushed != self._hushed:
                    return
                self._process = subprocess.Popen(
                    command,
                    stdin=subprocess.PIPE,
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                )
            try:
                self._process.communicate(text.encode(), timeout=_LONGEST_S)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.communicate()
            failed = self._process.returncode != 0 and hushed == self._hushed
        except OSError:
            failed = True
        finally:
            with self._lock:
                self._process = None
        if failed:
            self._program = None
            self._fail(
                "espeak-ng does not work on this machine; nothing is read aloud",
                "check the loudspeaker and the system package espeak-ng",
            )

    def _fail(self, what: str, remedy: str) -> None:
        if self._problem:
            self._problem(VoiceError(what, remedy=remedy))
