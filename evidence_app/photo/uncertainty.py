"""Uncertainty of a result and what may be concluded from it.

Sources: JCGM 100:2008 (GUM) for the budget, equations (10), (G.2b) and 6.2.1;
JCGM 106:2012 section 8.3.2 and ISO 14253-1 for guard bands. All terms of one
budget are in the result's unit and taken as uncorrelated; terms that belong
together are joined before they are entered.
"""

import math
from collections.abc import Iterable
from enum import StrEnum

from msgspec import Struct

COVERAGE_FACTOR = 2.0
# One-sided 95 percent point of the normal distribution as ISO 14253-1 rounds it.
GUARD_FACTOR = 1.65


class Term(Struct, frozen=True):
    """One line of a budget: ``u`` is the standard uncertainty of the input times the
    sensitivity, in the unit of the result; ``dof`` its degrees of freedom."""

    name: str
    u: float
    dof: float = math.inf

    def __post_init__(self) -> None:
        if not (math.isfinite(self.u) and self.u >= 0 and self.dof > 0):
            raise ValueError(f"not a term of an uncertainty budget: {self}")


class Budget(Struct, frozen=True):
    terms: tuple[Term, ...]

    @property
    def combined(self) -> float:
        """Combined standard uncertainty, GUM equation (10)."""
        return math.sqrt(sum(term.u**2 for term in self.terms))

    @property
    def dof(self) -> float:
        """Effective degrees of freedom by Welch and Satterthwaite, GUM (G.2b)."""
        lost = sum(term.u**4 / term.dof for term in self.terms)
        return self.combined**4 / lost if lost else math.inf

    def expanded(self, k: float = COVERAGE_FACTOR) -> float:
        return k * self.combined


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a value known only to lie within limits, GUM 4.3.7."""
    return half_width / math.sqrt(3)


def at_the_limits(half_width: float) -> float:
    """The same for a value that lies near one limit or the other more often than between
    them (arcsine distribution), JCGM 101:2008, 6.4.6."""
    return half_width / math.sqrt(2)


class Conformity(StrEnum):
    WITHIN = "within"
    OUTSIDE = "outside"
    INCONCLUSIVE = "inconclusive"
    REFUSED = "refused"


def conformity(
    value: float, u: float, at_least: float | None = None, at_most: float | None = None
) -> Conformity:
    """What a value with standard uncertainty ``u`` proves about its limits.

    ``within`` when it keeps a guard band of 1.65 u to every limit, ``outside`` when it
    passes one by as much, else ``inconclusive``; also without any limit.
    """
    guard = GUARD_FACTOR * u
    limits = [limit for limit in (at_least, at_most) if limit is not None]
    if not limits:
        return Conformity.INCONCLUSIVE
    below = at_least is not None and value + guard < at_least
    above = at_most is not None and value - guard > at_most
    if below or above:
        return Conformity.OUTSIDE
    clear_below = at_least is None or value - guard >= at_least
    clear_above = at_most is None or value + guard <= at_most
    return Conformity.WITHIN if clear_below and clear_above else Conformity.INCONCLUSIVE


def joined(verdicts: Iterable[Conformity]) -> Conformity:
    """The verdict on a thing of which several values are judged: the worst counts."""
    order = (Conformity.OUTSIDE, Conformity.INCONCLUSIVE, Conformity.WITHIN)
    found = set(verdicts)
    return next((verdict for verdict in order if verdict in found), Conformity.INCONCLUSIVE)
