"""Sound of any rate and number of channels as mono at 16 kHz, block by block."""

import numpy as np
import soxr

from evidence_app.devices.microphone import RATE


class ToMono16k:
    """Keeps the state between blocks. Sound that has the right form passes untouched."""

    def __init__(self, rate: float, channels: int) -> None:
        self._channels = channels
        self._resampler = None if rate == RATE else soxr.ResampleStream(rate, RATE, 1, dtype="float32")

    def feed(self, block: np.ndarray, last: bool = False) -> np.ndarray:
        """``block``: int16, or floats on the same scale, of shape (n, channels); answers
        int16 of shape (m,).

        The mean of the channels is taken, so that no channel can make it overflow.
        The resampler holds some milliseconds back until ``last``.
        """
        if self._resampler is None and self._channels == 1 and block.dtype == np.int16:
            return block[:, 0]
        mono = block.mean(axis=1, dtype=np.float32)
        if self._resampler is not None:
            mono = self._resampler.resample_chunk(mono, last=last)
        return np.clip(np.rint(mono), -32768, 32767).astype(np.int16)
