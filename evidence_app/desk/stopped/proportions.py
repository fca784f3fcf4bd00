"""Proportions: control limits of a p-chart, exact ones for small groups, and the Wilson interval.

A p-chart shows whether the share of jobs that stop changes from one group to
the next by more than chance explains. It says nothing about why, and nothing
about a person.
"""

import math
from collections.abc import Sequence

from msgspec import Struct

# The normal approximation behind the limits wants about five expected stops and five
# expected jobs without one in a group (common practice; NIST/SEMATECH e-Handbook 6.3.3.2
# asks for "large enough" n only).
LEAST_EXPECTED = 5.0
# Two-sided 95 %: the 0.975 quantile of the standard normal distribution.
Z_95 = 1.959963984540054
# Of each tail of the normal distribution beyond 3 sigma: small groups get limits as rare.
TAIL = 0.0013498980316301
# A group as unlikely as this is told with its chance (one in 200; common practice, no source).
TOLD_CHANCE = 0.005


class Point(Struct, frozen=True):
    """One group: ``stops`` of ``jobs``, their share, the control limits for so many jobs, and
    the Wilson interval (95 %) of the share. ``small``: too few jobs for limits by the normal
    distribution; they are exact binomial ones then. ``chance`` is that of so many stops or more
    (or so few or fewer) where the share is the centre."""

    label: str
    stops: int
    jobs: int
    share: float
    lower: float
    upper: float
    wilson_lower: float
    wilson_upper: float
    small: bool
    outside: bool
    chance: float

    @property
    def told(self) -> bool:
        """Whether a small group is too unlikely to be passed over."""
        return self.small and self.chance < TOLD_CHANCE


class PChart(Struct, frozen=True):
    """``centre`` is the share of stops over all groups together."""

    centre: float
    stops: int
    jobs: int
    points: tuple[Point, ...]


def p_chart(groups: Sequence[tuple[str, int, int]]) -> PChart:
    """The chart of (label, stops, jobs) for each group, in the order given.

    Limits are centre ± 3 sqrt(centre (1 - centre) / jobs), cut at 0 and 1
    (NIST/SEMATECH e-Handbook, section 6.3.3.2), for small groups those of ``exact_limits``. Groups without jobs are left out.
    Raises ValueError for counts that cannot be.
    """
    for label, stops, jobs in groups:
        if not 0 <= stops <= jobs:
            raise ValueError(f"{label}: {stops} stops of {jobs} jobs cannot be")
    groups = [group for group in groups if group[2]]
    total_stops, total_jobs = sum(g[1] for g in groups), sum(g[2] for g in groups)
    centre = total_stops / total_jobs if total_jobs else 0.0
    return PChart(centre, total_stops, total_jobs, tuple(_point(*group, centre) for group in groups))


def wilson(successes: int, trials: int) -> tuple[float, float]:
    """The score interval of a proportion (Wilson 1927), good for small counts too.

    Raises ValueError for no trials or counts that cannot be.
    """
    if not 0 <= successes <= trials or trials < 1:
        raise ValueError(f"{successes} of {trials} is no proportion")
    share, z = successes / trials, Z_95
    middle = share + z * z / (2 * trials)
    half = z * math.sqrt(share * (1 - share) / trials + z * z / (4 * trials * trials))
    whole = 1 + z * z / trials
    return max(0.0, (middle - half) / whole), min(1.0, (middle + half) / whole)


def exact_limits(jobs: int, centre: float) -> tuple[float, float]:
    """Shares below and above which a binomial count lies as rarely as beyond 3 sigma a side."""
    from scipy.special import bdtr, bdtrc

    counts = range(jobs + 1)
    lower = next(k for k in counts if bdtr(k, jobs, centre) > TAIL)
    upper = next(k for k in counts if bdtrc(k, jobs, centre) <= TAIL)
    return lower / jobs, upper / jobs


def chance(stops: int, jobs: int, centre: float) -> float:
    """Of ``stops`` or more of ``jobs`` where they are more than expected, else of as few."""
    from scipy.special import bdtr, bdtrc

    if stops <= jobs * centre:
        return float(bdtr(stops, jobs, centre))
    return float(bdtrc(stops - 1, jobs, centre)) if stops else 1.0


def _point(label: str, stops: int, jobs: int, centre: float) -> Point:
    share = stops / jobs
    small = jobs * centre < LEAST_EXPECTED or jobs * (1 - centre) < LEAST_EXPECTED
    half = 3 * math.sqrt(centre * (1 - centre) / jobs)
    lower, upper = (
        exact_limits(jobs, centre) if small else (max(0.0, centre - half), min(1.0, centre + half))
    )
    outside = not lower <= share <= upper
    return Point(
        label, stops, jobs, share, lower, upper, *wilson(stops, jobs), small, outside,
        chance(stops, jobs, centre),
    )  # fmt: skip
