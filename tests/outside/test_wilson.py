"""The Wilson interval against published values and against another library.

Newcombe, "Two-sided confidence intervals for the single proportion: comparison of
seven methods", Statistics in Medicine 17 (1998) 857-872, table I, method 3 (score
without continuity correction), 95 %; quoted from memory. The second check needs
no memory: statsmodels is not installed, but SciPy's binomtest has the interval.
"""

from __future__ import annotations

import pytest
from scipy.stats import binomtest

from evidence_app.desk.stopped.proportions import wilson

NEWCOMBE = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0000, 0.1611),
    (1, 29, 0.0061, 0.1718),
]


@pytest.mark.parametrize(("successes", "trials", "lower", "upper"), NEWCOMBE)
def test_published_intervals(successes, trials, lower, upper):
    found = wilson(successes, trials)
    assert tuple(round(limit, 4) for limit in found) == (lower, upper)


@pytest.mark.parametrize("trials", [1, 2, 5, 30, 1000])
def test_every_count_agrees_with_scipy(trials):
    for successes in range(trials + 1) if trials < 100 else (0, 1, 500, 999, 1000):
        other = binomtest(successes, trials).proportion_ci(0.95, method="wilson")
        assert wilson(successes, trials) == pytest.approx((other.low, other.high), abs=1e-9)


@pytest.mark.parametrize(("successes", "trials"), [(0, 0), (3, 2), (-1, 4)])
def test_no_proportion_is_refused(successes, trials):
    with pytest.raises(ValueError, match="no proportion"):
        wilson(successes, trials)
