"""The uncertainty code against JCGM 100:2008 (GUM), annex H.1, and the guard band.

H.1, calibration of an end gauge: inputs, combined standard uncertainty, effective degrees
of freedom and U99 as printed in tables H.1 and sections H.1.6 and H.1.7. Guard factor:
JCGM 106:2012, 8.3.2 (95 percent one-sided point of the normal distribution), rounded to
1.65 by ISO 14253-1:2017 as quoted in the literature.
"""

from __future__ import annotations

import math

import pytest
from scipy.stats import norm, t

from evidence_app.photo.uncertainty import GUARD_FACTOR, Budget, Term

# Name, sensitivity times standard uncertainty in nm, degrees of freedom (table H.1).
STANDARD = [("end standard", 1.0, 25.0, 18)]
DIFFERENCE = [
    ("repeated observations", 1.0, 5.8, 24),
    ("comparator, random", 1.0, 3.9, 5),
    ("comparator, systematic", 1.0, 6.7, 8),
]
EXPANSION = [("difference of expansion coefficients", 1.0, 2.887, 50)]
TEMPERATURE = [("difference of temperatures", 1.0, 16.599, 2)]


def budget(inputs) -> Budget:
    return Budget(tuple(Term(name, abs(c) * u, dof) for name, c, u, dof in inputs))


@pytest.fixture
def end_gauge() -> Budget:
    return budget(STANDARD + DIFFERENCE + EXPANSION + TEMPERATURE)


def test_combined_uncertainty_is_32_nm(end_gauge):
    assert round(end_gauge.combined) == 32


def test_difference_alone_has_9_7_nm_and_25_degrees_of_freedom():
    difference = budget(DIFFERENCE)
    assert difference.combined == pytest.approx(9.7, abs=0.05)
    assert math.floor(difference.dof) == 25


def test_effective_degrees_of_freedom_are_16(end_gauge):
    assert math.floor(end_gauge.dof) == 16


def test_u99_is_93_nm(end_gauge):
    # The GUM multiplies t of 2.92 with the combined uncertainty as rounded to 32 nm.
    student = round(t.ppf((1 + 0.99) / 2, math.floor(end_gauge.dof)), 2)
    assert round(student * round(end_gauge.combined)) == 93


def test_guard_factor_is_the_one_sided_95_percent_point():
    assert pytest.approx(norm.ppf(0.95), abs=0.006) == GUARD_FACTOR
