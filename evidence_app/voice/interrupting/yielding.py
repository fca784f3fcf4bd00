"""The app yields: as soon as a person speaks into what it plays, it falls silent and listens."""

from collections import deque

import numpy as np

from evidence_app.voice.interrupting.canceller import FRAME, Canceller
from evidence_app.voice.interrupting.loudspeaker import Loudspeaker
from evidence_app.voice.interrupting.near_speech import NearSpeech

_KEPT = 60  # frames, 0.6 s: the word that was begun before it was noticed
_ALONE = range(45, 95)  # frames after it fell silent in which a person would still be heard


class Yielding:
    """``feed`` each block while the app plays. Pauses ``loudspeaker`` when a person speaks; until
    it plays again (or ends), what is left of the microphone's sound is for the listener."""

    def __init__(self, canceller: Canceller, loudspeaker: Loudspeaker) -> None:
        self.canceller = canceller
        self.loudspeaker = loudspeaker
        self._near = NearSpeech()
        self._heard = self._played = np.zeros(0, np.int16)
        self._kept: deque[np.ndarray] = deque(maxlen=_KEPT)
        self._open_for = self._alone = 0

    def feed(self, heard: np.ndarray, played: np.ndarray) -> np.ndarray:
        """What is to be listened to, mostly nothing; int16 at 16 kHz, shape (n,). ``played``:
        what the app played while ``heard`` was recorded, of the same shape."""
        self._heard = np.concatenate([self._heard, heard])
        self._played = np.concatenate([self._played, played])
        whole = len(self._heard) // FRAME * FRAME
        found: list[np.ndarray] = []
        for start in range(0, whole, FRAME):
            found += self._frame(self._heard[start : start + FRAME], self._played[start : start + FRAME])
        self._heard, self._played = self._heard[whole:], self._played[whole:]
        return np.concatenate(found) if found else np.zeros(0, np.int16)

    def _frame(self, heard: np.ndarray, played: np.ndarray) -> list[np.ndarray]:
        left = self.canceller.cancel(heard, played)
        self._kept.append(left)
        near = self._near.hears(heard, left)
        if self.loudspeaker.paused:
            self._open_for += 1
            self._alone += near and self._open_for in _ALONE
            if self._open_for == _ALONE.stop and not self._alone:
                self.canceller.distrust()  # what fell silent with the app was its own sound
            return [left]
        if near and self.canceller.armed and self.loudspeaker.busy:
            self._open_for = self._alone = 0
            self.loudspeaker.paused = True
            return list(self._kept)
        return []
