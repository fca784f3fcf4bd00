"""The gauge study against two published worked examples and against known variances.

The reference manual: AIAG, Measurement Systems Analysis, 4th edition, chapter III section B,
ten parts, three appraisers, three trials, analysis of variance (readings and results as
restated in public test suites of statistics libraries, which agree with each other): sums
of squares, F and p of the interaction, pooled variance components, percent of total.

The small one: README of the R package gageRR (CRAN, version 0.1.0): two parts, two
operators, two trials, limits 0 and 0.040; variance components, interaction not pooled.

Both have no interaction left; known variances by simulation cover that component.
"""

from __future__ import annotations

import numpy as np
import pytest

from evidence_app.photo.study import Readings, Share, Study, read_readings, study

TABLE = b"""part,operator,trial,value
1,A,1,0.0172
1,A,2,0.0177
2,A,1,0.0155
2,A,2,0.0159
1,B,1,0.0174
1,B,2,0.0181
2,B,1,0.0152
2,B,2,0.0176
"""


# Part by part: three readings each of the appraisers A, B and C.
MANUAL = np.array(
    [
        [[0.29, 0.41, 0.64], [0.08, 0.25, 0.07], [0.04, -0.11, -0.15]],
        [[-0.56, -0.68, -0.58], [-0.47, -1.22, -0.68], [-1.38, -1.13, -0.96]],
        [[1.34, 1.17, 1.27], [1.19, 0.94, 1.34], [0.88, 1.09, 0.67]],
        [[0.47, 0.50, 0.64], [0.01, 1.03, 0.20], [0.14, 0.20, 0.11]],
        [[-0.80, -0.92, -0.84], [-0.56, -1.20, -1.28], [-1.46, -1.07, -1.45]],
        [[0.02, -0.11, -0.21], [-0.20, 0.22, 0.06], [-0.29, -0.67, -0.49]],
        [[0.59, 0.75, 0.66], [0.47, 0.55, 0.83], [0.02, 0.01, 0.21]],
        [[-0.31, -0.20, -0.17], [-0.63, 0.08, -0.34], [-0.46, -0.56, -0.49]],
        [[2.26, 1.99, 2.01], [1.80, 2.12, 2.19], [1.77, 1.45, 1.87]],
        [[-1.36, -1.25, -1.31], [-1.68, -1.62, -1.50], [-1.49, -1.77, -2.16]],
    ]
)
MANUAL_READINGS = Readings(tuple("1234567890"), tuple("ABC"), MANUAL)


def share_of(found: Study, name: str) -> Share:
    (share,) = (each for each in found.shares if each.name == name)
    return share


@pytest.mark.parametrize(
    ("name", "squares", "degrees", "mean"),
    [
        ("parts", 88.3619, 9, 9.81799),
        ("operators", 3.1673, 2, 1.58363),
        ("interaction", 0.3590, 18, 0.01994),
        ("repeatability", 2.7589, 60, 0.04598),
    ],
)
def test_the_manuals_analysis_of_variance_comes_out(name, squares, degrees, mean):
    effect = next(e for e in study(MANUAL_READINGS).effects if e.name == name)
    assert effect.squares == pytest.approx(squares, abs=5e-5)
    assert effect.degrees == degrees
    assert effect.mean == pytest.approx(mean, abs=5e-6)


@pytest.mark.parametrize(
    ("name", "f", "p"), [("parts", 492.291, 0.0), ("operators", 79.406, 0.0), ("interaction", 0.434, 0.974)]
)
def test_the_manuals_f_tests_come_out(name, f, p):
    effect = next(e for e in study(MANUAL_READINGS).effects if e.name == name)
    assert effect.f == pytest.approx(f, abs=6e-4)
    assert effect.p == pytest.approx(p, abs=6e-4)


@pytest.mark.parametrize(
    ("name", "variance", "of_total"),
    [
        ("repeatability", 0.03997, 18.42),
        ("reproducibility", 0.05146, 20.90),
        ("gauge", 0.09143, 27.86),
        ("parts", 1.08645, 96.04),
        ("total", 1.17788, 100.0),
    ],
)
def test_the_manuals_pooled_components_come_out(name, variance, of_total):
    share = share_of(study(MANUAL_READINGS), name)
    assert share.variance == pytest.approx(variance, abs=6e-6)
    assert share.of_total == pytest.approx(of_total, abs=6e-3)


@pytest.mark.parametrize(
    ("name", "variance", "of_total", "of_tolerance"),
    [
        ("repeatability", 8.325e-07, 62.68336, 13.686216),
        ("reproducibility", 1.05e-07, 22.26152, 4.860556),
        ("gauge", 9.375e-07, 66.51901, 14.523688),
        ("parts", 1.18125e-06, 74.66740, 16.302799),
        ("total", 2.11875e-06, 100.0, 21.833890),
    ],
)
def test_the_small_example_comes_out_unpooled(name, variance, of_total, of_tolerance):
    share = share_of(study(read_readings(TABLE, "example"), 0.040, pooled_above=1), name)
    assert share.variance == pytest.approx(variance, rel=1e-6)
    assert share.of_total == pytest.approx(of_total, rel=1e-6)
    assert share.of_tolerance == pytest.approx(of_tolerance, rel=1e-6)


def test_simulated_sources_are_found_with_the_sizes_they_were_given():
    """JCGM 101's way, by drawing from the model: the mean of many studies is the truth."""
    truth = {"parts": 4.0, "operators": 1.0, "interaction": 0.5, "repeatability": 0.25}
    generator, shape = np.random.default_rng(20), (10, 6, 3)
    sums = dict.fromkeys(truth, 0.0)
    for _ in range(800):
        values = (
            generator.normal(0, 2.0, (10, 1, 1))
            + generator.normal(0, 1.0, (1, 6, 1))
            + generator.normal(0, 0.5**0.5, (10, 6, 1))
            + generator.normal(0, 0.5, shape)
        )
        found = study(Readings(tuple("abcdefghij"), tuple("uvwxyz"), values), pooled_above=1)
        for name in sums:
            sums[name] += share_of(found, name).variance / 800
    assert sums == pytest.approx(truth, rel=0.1)
