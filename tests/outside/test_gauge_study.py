"""The gauge study against a published worked example and against known variances.

Worked example: README of the R package gageRR (CRAN, version 0.1.0): two parts, two
operators, two trials, limits 0 and 0.040; variance components by analysis of variance.
It has no interaction left after flooring at 0; the second test covers that component.
"""

from __future__ import annotations

import numpy as np
import pytest

from evidence_app.photo.study import Readings, read_readings, study

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


@pytest.mark.parametrize(
    ("name", "variance", "of_total", "of_tolerance"),
    [("repeatability", 8.325e-07, 62.68336, 13.686216),
     ("reproducibility", 1.05e-07, 22.26152, 4.860556),
     ("gauge", 9.375e-07, 66.51901, 14.523688),
     ("parts", 1.18125e-06, 74.66740, 16.302799),
     ("total", 2.11875e-06, 100.0, 21.833890)])
def test_the_published_example_comes_out(name, variance, of_total, of_tolerance):
    share = study(read_readings(TABLE, "example"), 0.040).share(name)
    assert share.variance == pytest.approx(variance, rel=1e-6)
    assert share.of_total == pytest.approx(of_total, rel=1e-6)
    assert share.of_tolerance == pytest.approx(of_tolerance, rel=1e-6)


def test_simulated_sources_are_found_with_the_sizes_they_were_given():
    """JCGM 101's way, by drawing from the model: the mean of many studies is the truth."""
    truth = {"parts": 4.0, "operators": 1.0, "interaction": 0.5, "repeatability": 0.25}
    generator, shape = np.random.default_rng(20), (10, 6, 3)
    sums = dict.fromkeys(truth, 0.0)
    for _ in range(800):
        values = (generator.normal(0, 2.0, (10, 1, 1)) + generator.normal(0, 1.0, (1, 6, 1))
                  + generator.normal(0, 0.5**0.5, (10, 6, 1)) + generator.normal(0, 0.5, shape))
        found = study(Readings(tuple("abcdefghij"), tuple("uvwxyz"), values))
        for name in sums:
            sums[name] += found.share(name).variance / 800
    assert sums == pytest.approx(truth, rel=0.1)
