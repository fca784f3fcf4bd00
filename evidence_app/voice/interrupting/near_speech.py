"""Whether a person speaks while the app does, by what is left of the microphone's sound.

Near speech stands out of what is usually left and is nearly as loud as what the microphone
hears, or heard just before: the canceller cannot take it away, as it does with the app's.
The limits were set on the development rooms of tests/bench/barge; no source.
"""

from collections import deque

import numpy as np

from evidence_app.voice.interrupting.canceller import mean_square

_OVER_FLOOR_DB = 6.0
_BELOW_HEARD_DB = 10.0
_OF, _IN = 10, 14  # frames of 10 ms
_QUIETEST_DB = 10.0  # over one step of 16 bits; below is the converter's own noise
_ROOM_FALL = 1.5  # decibels a frame: what the room still gives of a word that is over
_RISE, _FALL = 0.002, 0.1  # of the floor, for each decibel and frame


class NearSpeech:
    def __init__(self) -> None:
        self._floor, self._room = 60.0, 0.0
        self._near: deque[bool] = deque(maxlen=_IN)

    def hears(self, heard: np.ndarray, left: np.ndarray) -> bool:
        """Each frame, as the canceller got it and what it left of it."""
        whole = 10 * np.log10(mean_square(heard) + 1)
        level = max(_QUIETEST_DB, min(whole, 10 * np.log10(mean_square(left) + 1)))
        self._room = max(whole, self._room - _ROOM_FALL)
        self._floor += (_FALL if level < self._floor else _RISE) * (level - self._floor)
        self._near.append(level > self._floor + _OVER_FLOOR_DB and level > self._room - _BELOW_HEARD_DB)
        return sum(self._near) >= _OF
