"""Whether what the photos say of a scale card's check bar changes from job to job."""

from collections.abc import Sequence
from itertools import pairwise
from statistics import fmean

from msgspec import Struct

# Mean range of two normal values in standard deviations (NIST/SEMATECH e-Handbook 6.3.2.2).
_D2 = 1.128


class Drift(Struct, frozen=True):
    """Individuals chart of one card on one tablet: ``points`` (mm) and how many ``photos`` each
    is the mean of, by job; ``outside`` names the claims whose point passes a limit."""

    points: tuple[float, ...]
    photos: tuple[int, ...]
    centre: float
    lower: float
    upper: float
    outside: tuple[str, ...]


def drift(jobs: Sequence[tuple[float, float, int, str]]) -> Drift:
    """The chart of (bar in mm, its standard uncertainty, photos, claim) for each job, in the order of
    their closing.

    Limits are mean ± 3 (mean moving range) / 1.128 (NIST/SEMATECH e-Handbook, section 6.3.2.2), but
    never narrower than 3 standard uncertainties of a reading: cameras that repeat themselves better
    would call out what the reading cannot tell.
    """
    points, uncertain, photos, claims = zip(*jobs, strict=True)
    moving = [abs(after - before) for before, after in pairwise(points)]
    half = 3 * max(fmean(moving or [0.0]) / _D2, *uncertain)
    centre = fmean(points)
    outside = (claim for claim, mm in zip(claims, points, strict=True) if abs(mm - centre) > half)
    return Drift(points, photos, centre, centre - half, centre + half, tuple(outside))
