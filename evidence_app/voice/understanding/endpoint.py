"""Where an utterance begins and ends, by how much it stands out of the place's own noise.

Levels are of 20 ms frames in four bands between 200 and 4000 Hz, each against its own
noise floor; what counts is how far the two bands that stand out most do so. Hum, rumble
and a howl in one band therefore hide little. The floors and how far noise strays from
them are followed all the time, quickly while nobody speaks and slowly meanwhile, so that
a fan that is switched on is soon part of the place. An utterance that does not end is cut
at a limit, after which the floors are taken from it. For commands the near voice alone
counts: what lies far below the loudest of an utterance is further away, a radio perhaps,
and does not keep it going, and what stands out far above it begins an utterance of its
own. Time constants and margins were set on generated speech in generated noise: no source.
"""

from collections import deque
from typing import Literal

import numpy as np
from msgspec import Struct

from evidence_app.voice.note.wav import RATE

FRAME = RATE // 50  # 20 ms
_PRE_ROLL = 15  # frames kept before the first that stood out: soft consonants
_SMOOTH = 3
_BANDS_HZ = (200, 600, 1200, 2300, 4000)
_QUIETEST_DB = 20.0  # of a band that strays by 10 steps; below is the converter's own noise
_BEGIN_DB, _GO_ON_DB = 5.0, 3.0  # over the floor, at least
_STRAY_BEGIN, _STRAY_GO_ON = 4.0, 2.2  # or so many times the noise's own straying
_BEGIN_OF, _BEGIN_IN = 5, 7
_SHORTEST = 8  # frames that stood out, or it was a knock
_FOLLOW, _FALL, _RISE_IN_SPEECH, _STRAY = 0.04, 0.2, 0.001, 0.02
_NEAR_DB = 12.0  # below the loudest of an utterance it is no longer the near voice
_NEARER_DB, _NEARER_OF = 8.0, 4  # above what went on, for so many frames: a nearer voice
_OLD = 25  # frames of an utterance before a nearer voice can begin another
_KNOWN = 10  # frames of the place alone before one voice can be told to be nearer than another
_FAR_BELOW_DB = 6.0  # so far below the floor the place has become quiet
_CUT_MEMORY = 100  # frames from which the floors are taken after a cut
_EDGES = np.array([round(hz * FRAME / RATE) for hz in _BANDS_HZ])
_WIDTHS = np.diff(_EDGES)
_WINDOW = np.hanning(FRAME).astype(np.float32)
# Parseval: from the squares of half a windowed spectrum to a mean square of samples.
_SCALE = 2.0 / (FRAME * float(_WINDOW @ _WINDOW))


class Utterance(Struct, frozen=True):
    """``samples`` int16 at 16 kHz. ``pause``: it may go on; ``end``: it is over;
    ``cut``: it had not ended at the limit. ``number`` is the same for one utterance."""

    kind: Literal["pause", "end", "cut"]
    number: int
    samples: np.ndarray


class Endpointer:
    """``pause_s`` of quiet makes a pause, ``end_s`` an end, ``longest_s`` is the limit.
    ``near``: only the near voice counts."""

    def __init__(
        self, pause_s: float = 0.24, end_s: float = 0.8, longest_s: float = 10.0, near: bool = False
    ) -> None:
        self._near = near
        self._pause = round(pause_s * 50)
        self._end = round(end_s * 50)
        self._longest = round(longest_s * 50)
        self._floors: np.ndarray | None = None
        self._stray = 1.0
        self._known = 0
        self.number = 0  # of the newest utterance
        self.reset()

    def reset(self) -> None:
        """Forget the utterance that is under way; what is known of the noise stays."""
        self._rest = np.zeros(0, np.int16)
        self._before: deque[np.ndarray] = deque(maxlen=_PRE_ROLL)
        self._recent: deque[np.ndarray] = deque(maxlen=_SMOOTH)
        self._over: deque[bool] = deque(maxlen=_BEGIN_IN)
        self._frames: list[np.ndarray] = []  # of the utterance under way, none between two
        self._levels: deque[np.ndarray] = deque(maxlen=_CUT_MEMORY)
        self._loud = self._quiet = 0
        self._loudest, self._nearer = 0.0, 0

    @property
    def hearing(self) -> bool:
        """Whether somebody seems to be speaking."""
        return bool(self._frames) and self._quiet < self._pause

    @property
    def under_way(self) -> bool:
        """Whether somebody speaks or draws breath: the utterance has not ended yet."""
        return bool(self._frames)

    def speaking(self, number: int) -> bool:
        """Whether utterance ``number`` went on, or another began, after its pause."""
        return number != self.number or self._quiet < self._pause

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
        levels = _levels(frame)
        self._recent.append(levels)
        if self._floors is None:
            self._floors = levels.copy()
        above = np.sort(sum(self._recent) / len(self._recent) - self._floors)
        over = float(above[-1] + above[-2]) / 2
        begins = over > max(_BEGIN_DB, _STRAY_BEGIN * self._stray)
        goes_on = over > max(_GO_ON_DB, _STRAY_GO_ON * self._stray, self._loudest - _NEAR_DB)
        self._follow_noise(levels, over, goes_on)
        if not self._frames:
            self._before.append(frame)
            self._over.append(begins)
            if sum(self._over) >= _BEGIN_OF:
                self._begin()
            return None
        self._frames.append(frame)
        self._levels.append(levels)
        if self._near:
            self._weigh(over)
        self._loud += goes_on
        self._quiet = 0 if goes_on else self._quiet + 1
        return self._ended()

    def _weigh(self, over: float) -> None:
        """Keep the utterance's loudest moments; a much nearer voice begins it anew."""
        known = self._known >= _KNOWN
        nearer = known and over > self._loudest + _NEARER_DB and len(self._frames) > _OLD
        self._nearer = self._nearer + 1 if nearer else 0
        if self._nearer >= _NEARER_OF:
            self.number += 1
            self._frames = self._frames[-_PRE_ROLL - _NEARER_OF :]
            self._loud, self._nearer = _NEARER_OF, 0
            self._loudest = over
        elif not nearer:
            self._loudest = max(self._loudest, over)

    def _begin(self) -> None:
        self.number += 1
        self._loudest, self._nearer = 0.0, 0
        self._frames = list(self._before)
        self._loud, self._quiet = sum(self._over), 0
        self._levels.clear()

    def _ended(self) -> Utterance | None:
        if self._quiet >= self._end or len(self._frames) >= self._longest:
            cut = self._quiet < self._pause
            found = self._give("cut" if cut else "end") if self._loud >= _SHORTEST else None
            if cut:
                self._floors = np.percentile(list(self._levels), 30, axis=0)
            self._over.clear()
            self._before.clear()
            self._frames, self._loudest = [], 0.0
            return found
        if self._quiet == self._pause and self._loud >= _SHORTEST:
            return self._give("pause")
        return None

    def _give(self, kind: Literal["pause", "end", "cut"]) -> Utterance:
        # What is quiet at the end says nothing and costs time, but for its first moment.
        keep = len(self._frames) - max(0, self._quiet - self._pause)
        samples = np.concatenate(self._frames[:keep])
        return Utterance(kind, self.number, samples)

    def _follow_noise(self, levels: np.ndarray, over: float, stands_out: bool) -> None:
        above = levels - self._floors
        noise = not self._frames and not stands_out
        rate = np.where(above < -_FAR_BELOW_DB, _FALL, _FOLLOW if noise else _RISE_IN_SPEECH)
        self._floors = self._floors + rate * above
        if noise:
            self._known += 1
            self._stray += _STRAY * (abs(over) - self._stray)


def _levels(frame: np.ndarray) -> np.ndarray:
    """Of each band, in decibels of its mean square for each bin."""
    spectrum = np.fft.rfft(frame * _WINDOW)
    power = spectrum.real**2 + spectrum.imag**2
    bands = np.add.reduceat(power, _EDGES)[:-1] * (_SCALE / _WIDTHS * 20)
    return np.maximum(_QUIETEST_DB, 10.0 * np.log10(bands + 1.0))
