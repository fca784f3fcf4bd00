"""Budgets and what may be concluded from them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evidence_app.photo.uncertainty import (
    Budget,
    Conformity,
    Term,
    at_the_limits,
    conformity,
    joined,
    rectangular,
)


def test_terms_add_in_squares():
    assert Budget((Term("a", 3.0), Term("b", 4.0))).combined == 5.0


def test_without_finite_degrees_of_freedom_the_sum_has_none():
    assert Budget((Term("a", 1.0),)).dof == math.inf


def test_one_term_keeps_its_degrees_of_freedom():
    assert Budget((Term("a", 2.0, 7),)).dof == pytest.approx(7)


def test_expanded_is_twice_the_combined():
    assert Budget((Term("a", 0.5),)).expanded() == 1.0


@pytest.mark.parametrize("u", [-1.0, math.nan, math.inf])
def test_a_term_that_is_no_uncertainty_is_refused(u):
    with pytest.raises(ValueError, match="budget"):
        Term("a", u)


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        (0.10, Conformity.WITHIN),
        (0.1834, Conformity.WITHIN),
        (0.1836, Conformity.INCONCLUSIVE),
        (0.2, Conformity.INCONCLUSIVE),
        (0.2164, Conformity.INCONCLUSIVE),
        (0.2166, Conformity.OUTSIDE),
    ],
)
def test_upper_limit_with_its_guard_band(value, verdict):
    assert conformity(value, 0.01, at_most=0.2) is verdict


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        (0.0834, Conformity.OUTSIDE),
        (0.1, Conformity.INCONCLUSIVE),
        (0.15, Conformity.WITHIN),
        (0.19, Conformity.INCONCLUSIVE),
        (0.22, Conformity.OUTSIDE),
    ],
)
def test_two_limits(value, verdict):
    assert conformity(value, 0.01, 0.1, 0.2) is verdict


def test_without_a_limit_nothing_is_concluded():
    assert conformity(0.1, 0.01) is Conformity.INCONCLUSIVE


def test_the_worst_verdict_counts():
    assert joined([Conformity.WITHIN, Conformity.OUTSIDE]) is Conformity.OUTSIDE


def test_a_rectangle_spreads_as_drawn_at_random():
    drawn = np.random.default_rng(1).uniform(-0.4, 0.4, 200_000)
    assert rectangular(0.4) == pytest.approx(drawn.std(), rel=0.01)


def test_expanded_uncertainty_covers_what_random_errors_give():
    """Propagation of distributions in the manner of JCGM 101: product of a scale and a
    length, each with its error; k = 2 covers 95 percent."""
    rng = np.random.default_rng(2)
    scale = 1 + rng.uniform(-0.004, 0.004, 100_000)
    length = rng.normal(0.2, 0.006, 100_000)
    budget = Budget((Term("scale", 0.2 * rectangular(0.004)), Term("length", 0.006)))
    covered = np.abs(scale * length - 0.2) <= budget.expanded()
    assert covered.mean() == pytest.approx(0.9545, abs=0.005)


def test_a_value_near_its_limits_has_the_variance_of_the_arcsine_distribution():
    """JCGM 101:2008, 6.4.6: half the square of the half width; here from its quantiles."""
    shares = (np.arange(200_000) + 0.5) / 200_000
    assert at_the_limits(0.15) == pytest.approx(
        float(np.std(0.15 * np.sin(np.pi * (shares - 0.5)))), rel=1e-4
    )
