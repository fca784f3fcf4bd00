"""Proportions: control limits of a p-chart and the Wilson interval. Pure numbers.

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


class Point(Struct, frozen=True):
    """One group: ``stops`` of ``jobs``, their share, the control limits for so many jobs, and
    the Wilson interval (95 %) of the share. ``small``: too few jobs for the limits to mean
    anything, so ``outside`` is never said of it."""

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


class PChart(Struct, frozen=True):
    """``centre`` is the share of stops over all groups together."""

    centre: float
    stops: int
    jobs: int
    points: tuple[Point, ...]


def p_chart(groups: Sequence[tuple[str, int, int]]) -> PChart:
    """The chart of (label, stops, jobs) for each group, in the order given.

    Limits are centre ± 3 sqrt(centre (1 - centre) / jobs), cut at 0 and 1
    (NIST/SEMATECH e-Handbook, section 6.3.3.2). Groups without jobs are left out.
    Raises ValueError for counts that cannot be.
    """
    for label, stops, jobs in groups:
        if not 0 <= stops <= jobs:
            raise ValueError(f"{label}: {stops} stops of {jobs} jobs cannot be")
    groups = [group for group in groups if group[2]]
    total_stops, total_jobs = sum(g[1] for g in groups), sum(g[2] for g in groups)
    centre = total_stops / total_jobs if total_jobs else 0.0
    return PChart(centre, total_stops, total_jobs, tuple(_point(*group, centre) for group in groups))


def wilson(successes: int, trials: int, z: float = Z_95) -> tuple[float, float]:
    """The score interval of a proportion (Wilson 1927), good for small counts too.

    Raises ValueError for no trials or counts that cannot be.
    """
    if not 0 <= successes <= trials or trials < 1:
        raise ValueError(f"{successes} of {trials} is no proportion")
    share = successes / trials
    middle = share + z * z / (2 * trials)
    half = z * math.sqrt(share * (1 - share) / trials + z * z / (4 * trials * trials))
    whole = 1 + z * z / trials
    return max(0.0, (middle - half) / whole), min(1.0, (middle + half) / whole)


def _point(label: str, stops: int, jobs: int, centre: float) -> Point:
    share = stops / jobs
    half = 3 * math.sqrt(centre * (1 - centre) / jobs)
    lower, upper = max(0.0, centre - half), min(1.0, centre + half)
    small = jobs * centre < LEAST_EXPECTED or jobs * (1 - centre) < LEAST_EXPECTED
    outside = not small and not lower <= share <= upper
    return Point(label, stops, jobs, share, lower, upper, *wilson(stops, jobs), small, outside)
