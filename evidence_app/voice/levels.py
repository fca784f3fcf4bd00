"""How loud the microphone is, and what to do when that will not do.

Levels are in dBFS: 0 dBFS is the level of a full-scale sine (the convention of AES17,
from memory). They tell nothing of decibels in the room, since no microphone here is
calibrated; the limits are common practice for speech at 16 bits, no source.
"""

from collections import deque

import numpy as np
from msgspec import Struct

from evidence_app.sentence import Sentence, sentence
from evidence_app.voice.note.wav import RATE

_FRAME = RATE // 20  # 50 ms: several periods of the deepest voice
_METER_FRAMES = 6  # 0.3 s, so that the meter follows syllables without flicker
_MEMORY_FRAMES = 100  # 5 s, longer than one breath of speech
_SENTENCE_FRAMES = 40  # 2 s: before silence is called so, and to read that it clipped
_FULL = 32_767
_FLOOR_DBFS = -96.0  # about one step of 16 bits

SILENT_DBFS = -70.0
LOUD_PLACE_DBFS = -35.0
# A voice may touch full scale once; sound cut flat stays there for several samples.
_CLIPPED_RUN = 3

HEARS_NOTHING = sentence(
    "The microphone hears nothing. Check that it is plugged in, switched on and uncovered."
)
CLIPS = sentence("The voice is too loud for the microphone. Speak softer or hold it further away.")
PLACE_TOO_LOUD = sentence(
    "This place is loud. Hold the microphone closer to the mouth or go where it is quieter."
)


class Level(Struct, frozen=True):
    """``rms_dbfs`` over the last 0.3 s; ``sentence`` when one is due."""

    rms_dbfs: float
    sentence: Sentence | None


class LevelMeter:
    """Feed it every block; it remembers the last five seconds.

    One thread may feed while another asks for the level.
    """

    def __init__(self) -> None:
        self._rest = np.zeros(0, np.int16)
        # mean square, clipped; newest last
        self._frames: deque[tuple[float, bool]] = deque(maxlen=_MEMORY_FRAMES)

    def feed(self, block: np.ndarray) -> None:
        """int16 at 16 kHz, shape (n,)."""
        sound = np.concatenate([self._rest, block])
        whole = len(sound) // _FRAME * _FRAME
        for frame in sound[:whole].reshape(-1, _FRAME):
            wide = np.abs(frame.astype(np.int32))
            self._frames.append((float(np.mean(wide * wide)), _clips(wide)))
        self._rest = sound[whole:]

    def level(self) -> Level:
        frames = list(self._frames)
        recent = frames[-_METER_FRAMES:]
        mean_square = sum(frame[0] for frame in recent) / len(recent) if recent else 0.0
        return Level(round(_dbfs(mean_square), 1), _sentence(frames))


def _sentence(frames: list[tuple[float, bool]]) -> Sentence | None:
    if any(clipped for _, clipped in frames[-_SENTENCE_FRAMES:]):
        return CLIPS
    levels = [_dbfs(mean_square) for mean_square, _ in frames]
    if len(levels) >= _SENTENCE_FRAMES and max(levels[-_SENTENCE_FRAMES:]) < SILENT_DBFS:
        return HEARS_NOTHING
    # Between words even a fast speaker lets the place be heard: the quiet tenth.
    if len(levels) == _MEMORY_FRAMES and np.percentile(levels, 10) > LOUD_PLACE_DBFS:
        return PLACE_TOO_LOUD
    return None


def _clips(magnitude: np.ndarray) -> bool:
    full = magnitude >= _FULL
    return bool(
        full.sum() >= _CLIPPED_RUN
        and np.convolve(full, np.ones(_CLIPPED_RUN), "valid").max() >= _CLIPPED_RUN
    )


def _dbfs(mean_square: float) -> float:
    """20 log10 of the RMS against that of a sine of full scale."""
    if mean_square <= 0:
        return _FLOOR_DBFS
    return max(_FLOOR_DBFS, 10 * float(np.log10(2 * mean_square / (_FULL * _FULL))))
