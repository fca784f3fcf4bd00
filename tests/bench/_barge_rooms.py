"""Simulated rooms for the benchmark of interruptions: which are for tuning, which for scoring."""

from __future__ import annotations

import numpy as np
from scipy.signal import fftconvolve

from tests.bench._voice_sounds import RATE

DEV_ROOMS = range(100)
SCORE_ROOMS = range(1000, 1100)
"""Seeds. Nothing was tuned on the second: no limit of the canceller, of near speech or of the
yielding was chosen by how it did there."""

BLOCK = 320
SPEECH = 0.02  # of full scale, RMS of a voice at the microphone; leaves room for a loud echo


class Room:
    """A loudspeaker and a microphone in a room that decays by 60 dB in about 0.3 s (ISO
    3382-2): a direct sound and noise that falls exponentially. The echo comes 40 to 90 ms
    late, as through a sound server. ``echo_db``: over the level of the near voice.
    ``drift_ppm``: by how much the microphone's clock is slow."""

    def __init__(
        self, seed: int, echo_db: float, noise_db: float | None = None, drift_ppm: float = 0
    ) -> None:
        self.chance = np.random.default_rng(seed)
        late = int(self.chance.uniform(0.04, 0.09) * RATE)
        self._way = np.concatenate([np.zeros(late), self._response()])
        self._mouth = self._response(direct=4.0)
        self._level = SPEECH * 10 ** (echo_db / 20)
        self._noise = SPEECH / 10 ** ((48 if noise_db is None else noise_db) / 20)
        self._tail = np.zeros(0)
        self._drift = drift_ppm / 1e6
        self._behind = 0.0
        self._late = np.zeros(BLOCK)  # what the drift and a jump have held back
        self._near = np.zeros(0)

    def _response(self, direct: float = 1.5) -> np.ndarray:
        seconds = self.chance.uniform(0.25, 0.35)
        n = int(seconds * RATE)
        response = self.chance.normal(size=n) * 10 ** (-3 * np.arange(n) / n)
        response /= np.sqrt(response @ response)
        response[0] += direct
        return response / np.sqrt(response @ response)

    def says(self, voice: np.ndarray) -> float:
        """A person begins now; how long it takes, in seconds."""
        said = as_loud(fftconvolve(voice, self._mouth), SPEECH)
        self._near = np.concatenate([self._near, said])
        return len(said) / RATE

    def jumps(self, seconds: float) -> None:
        """From now on the echo comes so much later."""
        self._late = np.concatenate([self._late, np.zeros(int(seconds * RATE))])

    def hears(self, played: np.ndarray) -> np.ndarray:
        """The microphone's sound while a block is played; both int16."""
        sound = fftconvolve(played.astype(float) / OWN, self._way) * self._level
        sound[: len(self._tail)] += self._tail[: len(sound)]
        self._tail = sound[BLOCK:]
        self._late = np.concatenate([self._late, sound[:BLOCK]])
        echo = self._drifted()
        near, self._near = self._near[:BLOCK], self._near[BLOCK:]
        heard = echo + self.chance.normal(size=BLOCK) * self._noise
        heard[: len(near)] += near
        return np.clip(np.rint(heard * 32767), -32768, 32767).astype(np.int16)

    def _drifted(self) -> np.ndarray:
        """The next block of the echo by a clock that is slow, with straight lines between samples."""
        self._behind += self._drift * BLOCK
        if self._behind >= 1:
            self._behind -= 1
            self._late = np.concatenate([self._late[:1], self._late])
        whole = self._late
        echo = (1 - self._behind) * whole[1 : BLOCK + 1] + self._behind * whole[:BLOCK]
        self._late = whole[BLOCK:]
        return echo


OWN = 3000.0  # RMS of the app's own voice in what it plays, int16


def as_loud(sound: np.ndarray, level: float) -> np.ndarray:
    """Brought to an RMS of ``level`` where it is loud."""
    loud = sound[np.abs(sound) > 0.05 * np.abs(sound).max()]
    return sound * (level / np.sqrt(np.mean(loud**2)))
