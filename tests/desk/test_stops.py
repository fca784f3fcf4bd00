"""Counting stops: what counts, how it is grouped, and how it is shown."""

from __future__ import annotations

import re
import xml.dom.minidom
from functools import partial

import cv2
import numpy as np
import pytest
import scipy.stats

from evidence_app.desk.intake import Desk, Intake
from evidence_app.desk.stopped.between import g_chart
from evidence_app.desk.stopped.counts import Stops, as_csv, count_stops
from evidence_app.desk.stopped.picture import draw, save
from evidence_app.desk.stopped.proportions import p_chart
from evidence_app.deskpage.shown.stops import lines_of
from evidence_app.errors import EvidenceError, RegisterError
from tests.hostile.make import ATTACKS, build
from tests.making import make_closed_job, make_key, make_package, seal


@pytest.mark.parametrize(
    ("by", "labels"),
    [
        ("week", ["2026-W10"]),
        ("step-list", ["ossmere-h7-slot-look"]),
        ("technician", ["M. Okafor-Lind"]),
        ("unit-batch:4", ["H7-0"]),
        ("part-batch:lamp-distance", ["120"]),
        ("part-batch:adhesive-lot", ["not given"]),
    ],
)
def test_groups(both, by, labels):
    points = count_stops(both, by).chart.points
    assert [(p.label, p.stops, p.jobs) for p in points] == [(label, 1, 2) for label in labels]


def test_unknown_grouping_is_refused(both):
    with pytest.raises(RegisterError, match="cannot be grouped"):
        count_stops(both, "weekday")


def test_reasons_are_counted(both):
    assert count_stops(both).reasons == (("Residue is seen in a tab slot.", 1),)


def test_practice_and_failing_packages_and_second_receipts_do_not_count(register, tmp_path):
    intake = Intake(register, Desk("desk 2", accept_practice=True))
    job = make_closed_job(tmp_path / "job")
    for key in (1, 2):
        intake.take(seal(job, tmp_path / str(key), make_key(key)).path)
    intake.take(make_package(tmp_path / "practice", practice=True).path)
    broken = tmp_path / "broken.zip"
    broken.write_bytes(b"PK\x03\x04")
    intake.take(broken)
    counted = count_stops(register)
    assert (counted.chart.stops, counted.chart.jobs) == (0, 1)
    assert dict(counted.left_out) == {
        "of a job that was received before": 1,
        "practice packages": 1,
        "that could not be read": 1,
    }


def test_jobs_that_a_failing_check_takes_away_are_told(register, intake, completed, stopped, tmp_path):
    intake.take(completed)
    intake.take(build(ATTACKS["photo-byte-altered"], stopped, tmp_path).path)
    counted = count_stops(register)
    assert (counted.chart.stops, counted.chart.jobs) == (0, 1)
    assert counted.with_failing == (1, 2)
    assert "(a revoked key is one): 1 of 2." in "\n".join(lines_of(counted))


def test_hidden_names_appear_nowhere(both):
    counted = count_stops(both, "technician", hide_names=True)
    said = "\n".join(lines_of(counted)) + as_csv(counted).decode("utf-8-sig")
    assert "Okafor" not in said
    assert "technician 001" in said


def test_few_jobs_give_no_conclusion(both):
    point = count_stops(both).chart.points[0]
    assert (point.small, point.outside) == (True, False)
    assert "few jobs: no conclusion" in "\n".join(lines_of(count_stops(both)))


def test_table_csv_and_picture_never_judge_a_person(both, tmp_path):
    counted = count_stops(both, "technician")
    draw(tmp_path / "stops.svg", partial(save, counted))
    svg = (tmp_path / "stops.svg").read_text("utf-8")
    for said in ("\n".join(lines_of(counted)), as_csv(counted).decode("utf-8-sig"), svg):
        assert "not who works well" in re.sub(r"\s+", " ", said)


# Days between infections: Benneyan 1998, Infection Control and Hospital Epidemiology 19:265-283.
DAYS = [0, 0, 2, 1, 13, 2, 0, 1, 1, 1, 1, 0, 1, 1, 16, 0, 1, 1, 2, 10, 1, 1, 2, 2, 0, 2, 3, 0]


def jobs_of(gaps: list[int], before: int = 0, since: int = 0) -> list[tuple[str, bool]]:
    """Jobs with so many unstopped ones between the stopped."""
    stopped = [*[False] * before, True]
    for gap in gaps:
        stopped += [*[False] * gap, True]
    return [("2026-03-02", each) for each in (*stopped, *[False] * since)]


@pytest.mark.parametrize("gaps", [DAYS, [30, 41, 12, 77], [900, 2500, 1400]])
def test_limits_between_stops_are_those_of_a_reference_library(gaps):
    chart = g_chart(jobs_of(gaps))
    share, tail = 1 / (np.mean(gaps) + 1), scipy.stats.norm.sf(3)
    # scipy counts the stop itself; its upper quantile is the first that leaves less than the tail.
    known = scipy.stats.geom(share, loc=-1)
    assert chart.centre == pytest.approx(known.mean())
    assert (chart.lower, chart.upper) == (known.ppf(tail), known.isf(tail))
    assert [gap.jobs for gap in chart.gaps] == gaps


def test_a_gap_is_outside_as_the_published_days_between_infections_are_not():
    assert not any(gap.outside for gap in g_chart(jobs_of(DAYS)).gaps)
    longer = g_chart(jobs_of([*DAYS, 60]))
    assert [gap.outside for gap in longer.gaps] == [*[False] * len(DAYS), True]


def test_four_stops_close_together_are_told_with_their_chance():
    gaps = [40, 25, 60, 33, 51, 18, 70, 1, 0, 2, 1]
    found = g_chart(jobs_of(gaps)).gaps
    known = scipy.stats.nbinom.cdf(sum(gaps[-4:]), 4, 1 / (np.mean(gaps) + 1))
    assert found[-1].chance == pytest.approx(known)
    assert [gap.told for gap in found] == [*[False] * 10, True]


def test_jobs_before_the_first_stop_are_no_gap_and_those_after_the_last_are_told():
    chart = g_chart(jobs_of([5, 7], before=300, since=9))
    assert (chart.centre, [gap.jobs for gap in chart.gaps], chart.since) == (6, [5, 7], 9)


@pytest.mark.parametrize("gaps", [[], [0], [0, 0, 0, 0, 0]])
def test_stops_one_after_another_or_a_single_one_break_nothing(gaps):
    chart = g_chart(jobs_of(gaps))
    assert (chart.centre, chart.lower, chart.upper) == (0, 0, 0)
    assert not any(gap.outside for gap in chart.gaps)


def test_jobs_between_stops_are_in_table_csv_and_picture(tmp_path):
    counted = Stops(
        "week", p_chart([("2026-W10", 4, 40)]), (("Residue", 4),), (), (0, 0), g_chart(jobs_of([9, 8]))
    )
    assert "2026-03-02  8" in "\n".join(lines_of(counted))
    assert "2026-03-02,9,no,\r\n2026-03-02,8,no,\r\nmean,8.5" in as_csv(counted).decode("utf-8-sig")
    draw(tmp_path / "stops.svg", partial(save, counted))
    assert "jobs between stops" in (tmp_path / "stops.svg").read_text("utf-8")


def a_year() -> Stops:
    groups = [(f"2026-W{week:02d}", (week * 7) % 11, 40 + week % 5) for week in range(1, 53)]
    return Stops("week", p_chart(groups), (("Residue is seen $in$ a slot", 9), ("Other", 2)), ())


def test_picture_as_png_is_a_picture(tmp_path):
    draw(tmp_path / "stops.png", partial(save, a_year()))
    picture = cv2.imread(str(tmp_path / "stops.png"))
    assert picture.shape[1] > 1000
    assert picture.std() > 10


def test_picture_as_svg_is_the_same_each_time(tmp_path):
    draw(tmp_path / "one.svg", partial(save, a_year()))
    draw(tmp_path / "two.svg", partial(save, a_year()))
    assert (tmp_path / "one.svg").read_bytes() == (tmp_path / "two.svg").read_bytes()
    xml.dom.minidom.parse(str(tmp_path / "one.svg"))


def test_picture_of_nothing_received(register, tmp_path):
    register.last_photo()
    draw(tmp_path / "none.png", partial(save, count_stops(register)))
    assert (tmp_path / "none.png").stat().st_size > 1000


@pytest.mark.parametrize("name", ["stops.pdf", "stops"])
def test_other_picture_formats_are_refused(both, tmp_path, name):
    with pytest.raises(EvidenceError, match="PNG or SVG"):
        draw(tmp_path / name, partial(save, count_stops(both)))


def test_existing_picture_is_not_replaced(both, tmp_path):
    (tmp_path / "stops.png").write_bytes(b"mine")
    with pytest.raises(EvidenceError, match="cannot be written"):
        draw(tmp_path / "stops.png", partial(save, count_stops(both)))
    assert (tmp_path / "stops.png").read_bytes() == b"mine"
