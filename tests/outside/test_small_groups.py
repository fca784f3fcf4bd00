"""Limits and chances of small groups against SciPy's binomial distribution and published examples.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.4.1 (exact limits of 4
defectives of 20: 0.0714 and 0.4010 at 90 %), by the tails that define them; section 6.3.3.2 says
when the normal limits may not be used.
"""

import pytest
from scipy.stats import binom

from evidence_app.desk.stopped.proportions import chance, exact_limits, p_chart

THREE_SIGMA_TAIL = 0.0013498980316301


@pytest.mark.parametrize(("centre", "tail"), [(0.071354, 0.05), (0.401029, 0.05)])
def test_tails_of_the_handbooks_exact_limits(centre, tail):
    assert chance(4, 20, centre) == pytest.approx(tail, abs=1e-5)


@pytest.mark.parametrize("jobs", [1, 2, 4, 9, 17, 60])
@pytest.mark.parametrize("centre", [0.02, 0.21, 0.5, 0.9])
def test_exact_limits_are_scipys_quantiles(jobs, centre):
    lower, upper = exact_limits(jobs, centre)
    assert round(lower * jobs) == binom.ppf(THREE_SIGMA_TAIL, jobs, centre)
    assert round(upper * jobs) == binom.isf(THREE_SIGMA_TAIL, jobs, centre)


def test_four_of_four_in_a_week_is_told_with_its_chance():
    weeks = [(f"2026-W{n:02d}", 2, 14) for n in range(1, 8)] + [("2026-W08", 4, 4)]
    point = p_chart(weeks).points[-1]
    assert (point.small, point.told) == (True, True)
    assert point.chance == pytest.approx(binom.sf(3, 4, 18 / 102), rel=1e-9)


def test_one_of_two_is_not_told():
    point = p_chart([("a", 20, 100), ("b", 1, 2)]).points[-1]
    assert (point.small, point.told, point.outside) == (True, False, False)
