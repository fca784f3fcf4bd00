"""Readings are decimal text, compared in decimal, and outside only when confirmed."""

import pytest

from evidence_app.errors import Refused
from evidence_app.job import commands as c


@pytest.fixture
def pressing(bench):
    bench.work_to("press")
    return bench


@pytest.mark.parametrize(("typed", "kept"), [("0.10", "0.10"), (" 0.2 ", "0.2"), ("-0.05", "-0.05")])
def test_number_is_kept_as_it_was_entered(pressing, typed, kept):
    (event,) = pressing.do(c.EnterReading("gap", typed))
    assert (event.body["value"], event.body["unit"], event.body["within"]) == (kept, "mm", True)


@pytest.mark.parametrize(
    "typed", ["", "0,15", "1,200.00", "0.123", "1e-1", "+0.1", ".1", "0.", "0x1", "٠.١", "0.1 mm", "nan"]
)
def test_anything_but_a_plain_decimal_is_refused(pressing, typed):
    with pytest.raises(Refused, match="Gap"):
        pressing.do(c.EnterReading("gap", typed))


def test_value_at_the_limit_is_within(pressing):
    (event,) = pressing.do(c.EnterReading("gap", "0.20"))
    assert event.body["within"] is True


def test_value_outside_asks_for_confirmation_naming_the_limit(pressing):
    with pytest.raises(Refused, match=r"0\.21 mm is outside its limits, at most 0\.2 mm"):
        pressing.do(c.EnterReading("gap", "0.21"))


def test_confirmed_value_outside_is_recorded_as_outside(pressing):
    (event,) = pressing.do(c.EnterReading("gap", "0.21", confirm_outside=True))
    assert event.body["within"] is False


def test_confirmed_value_outside_does_not_hold_the_job_up(pressing):
    pressing.hold()
    pressing.do(
        c.EnterReading("gap", "0.21", confirm_outside=True), c.EnterReading("part", "MS-4"), c.GoOn()
    )
    assert pressing.job.step.id == "inspect"


def test_last_of_several_readings_counts(pressing):
    pressing.do(c.EnterReading("gap", "0.21", confirm_outside=True), c.EnterReading("gap", "0.11"))
    assert pressing.job.state.reading_of("press", "gap").value == "0.11"
    assert [e.body["value"] for e in pressing.job.record.events if e.kind == "reading-entered"] == [
        "0.21",
        "0.11",
    ]


def test_text_is_kept_and_has_no_limits(pressing):
    (event,) = pressing.do(c.EnterReading("part", " MS-4/b ", "scanned"))
    assert (event.body["value"], event.body["within"]) == ("MS-4/b", None)


@pytest.mark.parametrize("typed", ["", "   ", "two\nlines", "x" * 500])
def test_text_that_is_no_single_line_is_refused(pressing, typed):
    with pytest.raises(Refused):
        pressing.do(c.EnterReading("part", typed))


def test_scanning_is_refused_where_it_is_not_allowed(pressing):
    with pytest.raises(Refused, match="scanned"):
        pressing.do(c.EnterReading("gap", "0.10", "scanned"))


def test_reading_of_another_step_is_refused(bench):
    bench.work_to("clean")
    with pytest.raises(Refused):
        bench.do(c.EnterReading("gap", "0.10"))
