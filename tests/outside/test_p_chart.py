"""The p-chart against the NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.3.2.

Its worked example: 30 samples of 50 chips each, the number of defective ones.
"""

from __future__ import annotations

import pytest

from evidence_app.desk.stopped.proportions import p_chart

# NIST/SEMATECH e-Handbook, 6.3.3.2, table of the example.
DEFECTIVE = (
    *(12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22),
    *(8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6),
)
SIZE = 50


@pytest.fixture(scope="module")
def chart():
    return p_chart([(str(n), x, SIZE) for n, x in enumerate(DEFECTIVE, start=1)])


def test_centre_line(chart):
    assert (chart.stops, chart.jobs) == (347, 1500)
    assert round(chart.centre, 4) == 0.2313


def test_control_limits(chart):
    assert {round(point.upper, 4) for point in chart.points} == {0.4102}
    assert {round(point.lower, 4) for point in chart.points} == {0.0524}


def test_samples_outside(chart):
    assert [point.label for point in chart.points if point.outside] == ["15", "23"]


def test_no_sample_is_small(chart):
    assert not any(point.small for point in chart.points)


def test_limits_follow_the_size_of_each_group():
    # Formula of 6.3.3.2 with n = 25 instead of 50: three sigma is larger by the square root of 2.
    centre = 100 / 500
    chart = p_chart([("a", 5, 25), ("b", 95, 475)])
    assert chart.points[0].upper == pytest.approx(centre + 3 * (centre * (1 - centre) / 25) ** 0.5)
    assert chart.points[0].lower == 0.0


@pytest.mark.parametrize("group", [("a", 3, 2), ("a", -1, 2)])
def test_counts_that_cannot_be_are_refused(group):
    with pytest.raises(ValueError, match="cannot be"):
        p_chart([group])
