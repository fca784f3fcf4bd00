"""The drift chart of a scale card's check bar."""

from __future__ import annotations

import pytest

from evidence_app.desk.work.drift import drift
from evidence_app.desk.work.observations import observations_of
from evidence_app.job import commands as c
from tests.job.bench import Bench, Photos
from tests.job.summary.summing import summary_of
from tests.restarting import RestartingClock


def chart(values: list[float], u: float = 0.005):
    return drift([(value, u, 1, f"claim {number}") for number, value in enumerate(values)])


def test_limits_are_those_of_a_published_chart():
    """NIST/SEMATECH e-Handbook 6.3.2.2, example of a moving range (flow rates)."""
    found = chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    assert (found.centre, found.upper, found.lower) == pytest.approx((50.81, 55.8041, 45.8159), abs=2e-4)
    assert not found.outside


def test_limits_are_never_narrower_than_a_reading_can_tell():
    found = chart([50.0, 50.0001, 50.0, 50.0001, 50.014])
    assert found.upper - found.centre == pytest.approx(0.015)
    assert not found.outside


def test_a_job_outside_the_limits_is_named():
    assert chart([50.001, 50.0, 50.002, 50.001, 50.0, 50.001, 50.0, 50.1]).outside == ("claim 7",)


def test_a_single_job_has_the_limits_of_its_reading():
    found = chart([50.002])
    assert (found.lower, found.upper) == pytest.approx((49.987, 50.017))


def test_every_bar_that_a_result_tells_is_an_observation(tmp_path):
    bench = Bench(tmp_path / "job", RestartingClock("2026-03-02T08:00:00.000+01:00"), Photos())
    with bench.open():
        bench.work_to("inspect")
        sha = bench.photo("seam")
        bench.do(c.KeepPhoto(sha, "The card does not fit beside it"))
        bars = {"check_bar_mm": 50.01, "second_check_bar_mm": None}
        result = {"kind": "gap", "unit": "mm", "value": 0.21, "U": 0.06, "conformity": "inconclusive",
                  "method": "edges", "sentence": "It may be too wide."} | bars  # fmt: skip
        bench.do(c.RecordMeasurement(sha, "seam", result))
        found = [each for each in observations_of(summary_of(bench)) if each.kind == "bar"]
    assert [(each.step, each.name, each.result, each.value) for each in found] == [
        ("inspect", None, "check_bar_mm", 50.01)
    ]
    assert found[0].u == pytest.approx(0.005, rel=0.01)
