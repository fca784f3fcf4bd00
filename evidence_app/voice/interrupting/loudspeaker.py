"""What the app plays while its microphone is open, and what of it belongs to which block."""

import threading

import numpy as np

from evidence_app.voice.note.wav import RATE

_HELD = RATE * 3 // 100  # samples by which the streams of both may get out of step


class Loudspeaker:
    """``play`` and wait until it is no longer ``busy``. Sound is int16 at 16 kHz, mono.

    ``open``: whether a stream takes the sound. ``played``: what it took while the block was
    recorded that the microphone is handing on, always as much earlier than it is heard.
    Thread-safe.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._waiting = self._taken = np.zeros(0, np.int16)
        self._least, self._counted = RATE, 0
        self.open = self.paused = False
        self.played: np.ndarray | None = None

    @property
    def busy(self) -> bool:
        return self.open and len(self._waiting) > 0

    def play(self, sound: np.ndarray) -> None:
        """In the place of what is being played."""
        with self._lock:
            self._waiting, self.paused = sound, False

    def pull(self, samples: int) -> np.ndarray:
        """The next so many, silence where there are none."""
        sound = np.zeros(samples, np.int16)
        with self._lock:
            if not self.paused:
                next_, self._waiting = self._waiting[:samples], self._waiting[samples:]
                sound[: len(next_)] = next_
            self._taken = np.concatenate([self._taken, sound])[-RATE:]
        return sound

    def beside(self, samples: int) -> None:
        """The microphone hands on so many: set ``played`` to what was taken meanwhile."""
        with self._lock:
            short = np.zeros(max(0, samples - len(self._taken)), np.int16)
            taken = np.concatenate([short, self._taken])
            self.played, self._taken = taken[:samples], taken[samples:]
            self._least, self._counted = min(self._least, len(self._taken)), self._counted + samples
            if self._counted >= RATE:
                # What is held back all the time, as after the beginning, comes too late.
                too_much = self._least - _HELD
                self._taken = self._taken[too_much if too_much > _HELD else 0 :]
                self._least, self._counted = RATE, 0
