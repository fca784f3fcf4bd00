"""Takes what the app plays out of what its microphone hears: the echo canceller of Speex.

It learns the way from loudspeaker to microphone while the app reads aloud (an adaptive
filter in the frequency domain: Soo and Pang 1990; its step: Valin 2007). How much it takes
away is measured all the time, since a learned way is no longer right when a clock drifts
or sound was lost: who listens to what is left looks at ``armed`` first.
"""

import ctypes
from functools import cache
from typing import Any

import numpy as np

from evidence_app.voice.note.wav import RATE

FRAME = RATE // 100  # 10 ms
_TAIL = 6144  # samples, 0.38 s: how late an echo may come, the loudspeaker's buffer included
ARM_DB, DISARM_DB = 13.0, 5.0
# Frames of the app's sound over which the cancelling is measured: many once it is armed, since
# a person who speaks into it is not cancelled either.
_MEASURED, _MEASURED_ARMED = 150, 500
_LEAST = 100  # of them before it is believed
_NOW, _MORE = 14, 1.12  # frames, and 0.5 dB
_PLAYS = 100.0  # mean square of a frame that the loudspeaker can be heard with
_SET_RATE = 24  # SPEEX_ECHO_SET_SAMPLING_RATE in speex_echo.h


class Canceller:
    """Frame by frame, where there is ``library()``. ``armed``: whether it has been taking enough
    of the app's sound away."""

    def __init__(self) -> None:
        self._speex = library()
        self._echo = ctypes.c_void_p(self._speex.speex_echo_state_init(FRAME, _TAIL))
        self._speex.speex_echo_ctl(self._echo, _SET_RATE, ctypes.byref(ctypes.c_int(RATE)))
        self.distrust()

    def __del__(self) -> None:
        self._speex.speex_echo_state_destroy(self._echo)

    def distrust(self) -> None:
        """Not armed before the cancelling has been measured anew."""
        self.armed = False
        self._now, self._long = np.zeros(2), np.zeros(2)  # mean squares: heard, left
        self._frames = 0

    def cancel(self, heard: np.ndarray, played: np.ndarray) -> np.ndarray:
        """What is left of ``heard``; all int16 of shape (FRAME,)."""
        left = np.empty(FRAME, np.int16)
        self._speex.speex_echo_cancellation(self._echo, heard.ctypes, played.ctypes, left.ctypes)
        if mean_square(played) > _PLAYS:
            self._frames += 1
            both = np.array([mean_square(heard), mean_square(left)])
            self._now += (both - self._now) / _NOW
            weight = 1 / min(self._frames, _MEASURED_ARMED if self.armed else _MEASURED)
            self._long += weight * (both - self._long)
            taken_db = 10 * np.log10((self._long[0] + 1) / (self._long[1] + 1))
            least = DISARM_DB if self.armed else ARM_DB
            self.armed = bool(self._frames >= _LEAST and taken_db >= least)
            if self._now[1] > _MORE * self._now[0] > self._long[0] / 10:
                self.distrust()  # what is more afterwards is taken away at the wrong moment
        return left


def mean_square(samples: np.ndarray) -> float:
    wide = samples.astype(np.float32)
    return float(wide @ wide) / len(wide)


@cache
def library() -> Any:
    """The system's libspeexdsp, None where it is not installed (Debian: libspeexdsp1)."""
    try:
        speex = ctypes.CDLL("libspeexdsp.so.1")
    except OSError:
        return None
    speex.speex_echo_state_init.restype = ctypes.c_void_p
    return speex
