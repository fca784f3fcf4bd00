"""When a voice note is over although nobody ended it: after a long quiet that follows speech.

A note in which nobody has spoken yet goes on, so that there is time to think, and one
whose microphone gives no sound goes on too.
"""

import numpy as np

from evidence_app.voice.note.wav import RATE
from evidence_app.voice.understanding.endpoint import Endpointer

QUIET_S = 12.0  # longer than a person thinks in the middle of a report; no source


class NoteEnd:
    """``feed`` each block on one thread; the rest may be asked from another. ``spoken``:
    whether anybody has spoken yet."""

    def __init__(self, after_s: float = QUIET_S) -> None:
        self._ends = Endpointer()
        self._after_s = after_s
        self._samples = 0  # since somebody spoke last
        self.spoken = False

    def feed(self, block: np.ndarray) -> None:
        """int16 at 16 kHz, shape (n,)."""
        self._ends.feed(block)
        if self._ends.hearing:
            self.spoken, self._samples = True, 0
        else:
            self._samples += len(block)

    @property
    def left_s(self) -> float | None:
        """Seconds until the note is over; None while nobody has spoken yet."""
        return max(0.0, self._after_s - self._samples / RATE) if self.spoken else None
