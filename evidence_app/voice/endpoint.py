"""Where an utterance begins and ends, by how much it stands out of the place's own noise.

Levels are of 20 ms frames after a first difference, which takes rumble away. The noise
floor and how far noise strays from it are followed all the time, fast downwards and
slowly upwards, so that a fan that is switched on is soon part of the place. An utterance
that does not end is cut at a limit, after which the floor is taken from it. Time
constants and margins were set by ear on generated speech in noise: no source.
"""

from __future__ import annotations

from collections import deque
from typing import Literal

import numpy as np
from msgspec import Struct

from evidence_app.voice.wav import RATE

FRAME = RATE // 50  # 20 ms
_PRE_ROLL = 15  # frames kept before the first that stood out: soft consonants
_SMOOTH = 3
_QUIETEST_DB = 20.0  # of a frame whose samples stray by 10 steps; below is the converter's own
_BEGIN_DB, _GO_ON_DB = 6.0, 3.5  # over the floor, at least
_STRAY_BEGIN, _STRAY_GO_ON = 4.0, 2.0  # or so many times the noise's own straying
_BEGIN_OF, _BEGIN_IN = 5, 7
_SHORTEST = 8  # frames that stood out, or it was a knock
_DOWN, _UP, _UP_IN_SPEECH, _STRAY = 0.2, 0.02, 0.001, 0.02
_CUT_MEMORY = 100  # frames from which the floor is taken after a cut


class Utterance(Struct, frozen=True):
    """``samples`` int16 at 16 kHz. ``pause``: it may go on; ``end``: it is over;
    ``cut``: it had not ended at the limit. ``number`` is the same for one utterance."""

    kind: Literal["pause", "end", "cut"]
    number: int
    samples: np.ndarray
    quiet_s: float


class Endpointer:
    """``pause_s`` of quiet makes a pause, ``end_s`` an end, ``longest_s`` is the limit."""

    def __init__(self, pause_s: float = 0.3, end_s: float = 0.8, longest_s: float = 10.0) -> None:
        self._pause = round(pause_s * 50)
        self._end = round(end_s * 50)
        self._longest = round(longest_s * 50)
        self._floor: float | None = None
        self._stray = 1.0
        self._number = 0
        self._last = 0  # the sample before, for the difference
        self.reset()

    def reset(self) -> None:
        """Forget the utterance that is under way; what is known of the noise stays."""
        self._rest = np.zeros(0, np.int16)
        self._before: deque[np.ndarray] = deque(maxlen=_PRE_ROLL)
        self._recent: deque[float] = deque(maxlen=_SMOOTH)
        self._over: deque[bool] = deque(maxlen=_BEGIN_IN)
        self._frames: list[np.ndarray] | None = None
        self._levels: deque[float] = deque(maxlen=_CUT_MEMORY)
        self._loud = self._quiet = 0

    @property
    def hearing(self) -> bool:
        """Whether somebody seems to be speaking."""
        return self._frames is not None and self._quiet < self._pause

    def speaking(self, number: int) -> bool:
        """Whether utterance ``number`` went on, or another began, after its pause."""
        return number != self._number or self._quiet < self._pause

    def feed(self, block: np.ndarray) -> list[Utterance]:
        """int16 at 16 kHz, shape (n,), any length."""
        sound = np.concatenate([self._rest, block]) if len(self._rest) else block
        whole = len(sound) // FRAME * FRAME
        self._rest = sound[whole:].copy()
        found = []
        for frame in sound[:whole].reshape(-1, FRAME):
            utterance = self._take(frame)
            if utterance is not None:
                found.append(utterance)
        return found

    def flush(self) -> list[Utterance]:
        """The sound is over: what is under way ends here."""
        ended = [self._give("end")] if self._frames and self._loud >= _SHORTEST else []
        self.reset()
        return ended

    def _take(self, frame: np.ndarray) -> Utterance | None:
        level = self._level(frame)
        self._recent.append(level)
        smooth = sum(self._recent) / len(self._recent)
        if self._floor is None:
            self._floor = level
        over = smooth - self._floor
        begins = over > max(_BEGIN_DB, _STRAY_BEGIN * self._stray)
        goes_on = over > max(_GO_ON_DB, _STRAY_GO_ON * self._stray)
        self._follow_noise(level, begins)
        if self._frames is None:
            self._before.append(frame)
            self._over.append(begins)
            if sum(self._over) >= _BEGIN_OF:
                self._begin()
            return None
        self._frames.append(frame)
        self._levels.append(level)
        self._loud += goes_on
        self._quiet = 0 if goes_on else self._quiet + 1
        return self._ended()

    def _begin(self) -> None:
        self._number += 1
        self._frames = list(self._before)
        self._loud, self._quiet = sum(self._over), 0
        self._levels.clear()

    def _ended(self) -> Utterance | None:
        if self._quiet >= self._end or len(self._frames) >= self._longest:
            cut = self._quiet < self._pause
            found = self._give("cut" if cut else "end") if self._loud >= _SHORTEST else None
            if cut:
                self._floor = float(np.percentile(self._levels, 30))
            self._over.clear()
            self._before.clear()
            self._frames = None
            return found
        if self._quiet == self._pause and self._loud >= _SHORTEST:
            return self._give("pause")
        return None

    def _give(self, kind: Literal["pause", "end", "cut"]) -> Utterance:
        # What is quiet at the end says nothing and costs time, but for its first moment.
        keep = len(self._frames) - max(0, self._quiet - self._pause)
        samples = np.concatenate(self._frames[:keep])
        return Utterance(kind, self._number, samples, self._quiet * FRAME / RATE)

    def _level(self, frame: np.ndarray) -> float:
        wide = np.empty(len(frame) + 1, np.float32)
        wide[0] = self._last
        wide[1:] = frame
        self._last = int(frame[-1])
        difference = np.diff(wide)
        power = float(difference @ difference) / len(frame)
        return max(_QUIETEST_DB, 10.0 * float(np.log10(power + 1.0)))

    def _follow_noise(self, level: float, stands_out: bool) -> None:
        above = level - self._floor
        if above < 0:
            self._floor += _DOWN * above
        elif self._frames is None and not stands_out:
            self._floor += _UP * above
        else:
            self._floor += _UP_IN_SPEECH * above
        if not stands_out and self._frames is None:
            self._stray += _STRAY * (abs(above) - self._stray)
