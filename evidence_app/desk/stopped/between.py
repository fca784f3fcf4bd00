"""Jobs between stops: the chart for stops that are rare (g chart).

Where few jobs stop, the shares of weeks say little; how many jobs lie between one stop and the next
tells sooner that stops come closer together, or further apart. It says nothing about why, and
nothing about a person.
"""

import math
from collections.abc import Iterable

from msgspec import Struct

from evidence_app.desk.stopped.proportions import TAIL, TOLD_CHANCE

TOGETHER = 4
"""A single gap can hardly be too short; so many in a row can (common practice, no source)."""
FEW = 25
"""With fewer gaps the limits are rough (common practice)."""


class JobsBetween(Struct, frozen=True):
    """``jobs`` that were not stopped before the stop of ``day`` (YYYY-MM-DD, UTC) and after the one
    before it. ``chance`` is that of this gap and the three before it together being as short as
    they are, None where there are not as many."""

    day: str
    jobs: int
    outside: bool
    chance: float | None

    @property
    def told(self) -> bool:
        """Whether the stops up to this one come too close together to be passed over."""
        return self.chance is not None and self.chance < TOLD_CHANCE


class GChart(Struct, frozen=True):
    """``centre`` is the mean gap, ``since`` how many jobs there were since the last stop."""

    centre: float
    lower: int
    upper: int
    gaps: tuple[JobsBetween, ...]
    since: int


def g_chart(jobs: Iterable[tuple[str, bool]]) -> GChart:
    """The chart of (day, stopped) for each job, in the order of their closing.

    The count between two stops is geometric with P(X <= x) = 1 - (1 - p) ** (x + 1), and p is
    estimated as 1 / (mean + 1) (Kaminsky, Benneyan, Davis and Burke 1992, Journal of Quality
    Technology 24:63-69; Benneyan 2001, Health Care Management Science 4:305-318). That is too skewed
    for mean ± 3 sigma: the limits leave as little on each side as 3 sigma of the normal distribution do.
    What lies before the first stop has no beginning and is left out.
    """
    stops: list[tuple[str, int]] = []
    since = 0
    for day, stopped in jobs:
        if stopped:
            stops.append((day, since))
        since = 0 if stopped else since + 1
    between = stops[1:]
    counts = [count for _, count in between]
    centre = sum(counts) / len(counts) if counts else 0.0
    share = 1 / (centre + 1)
    lower, upper = _limits(share)
    gaps = (
        JobsBetween(day, count, not lower <= count <= upper, _chance(counts[: place + 1], share))
        for place, (day, count) in enumerate(between)
    )
    return GChart(centre, lower, upper, tuple(gaps), since)


def _limits(share: float) -> tuple[int, int]:
    """The least counts at or below which, and above which at most, a tail of 3 sigma lies."""
    if share == 1.0:
        return 0, 0
    passing = math.log1p(-share)
    lower = math.floor(math.log1p(-TAIL) / passing)
    return lower, max(0, math.ceil(math.log(TAIL) / passing) - 1)


def _chance(counts: list[int], share: float) -> float | None:
    """Of as few jobs in the last gaps together: their sum is negative binomial."""
    from scipy.special import nbdtr

    if len(counts) < TOGETHER:
        return None
    return float(nbdtr(sum(counts[-TOGETHER:]), TOGETHER, share))
