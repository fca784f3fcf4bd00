"""The project's time reader against the examples of RFC 3339.

The reader is the project's own (evidence_app/record/times.py); source: RFC 3339 section 5.8
(examples), 4.3 (unknown local offset), 5.7 and appendix D (leap seconds). Expected moments are
written as seconds since 1970-01-01T00:00:00Z, worked out with ``date -u -d`` of GNU coreutils.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from evidence_app.record.times import OFFSET_UNKNOWN, parse


@pytest.mark.parametrize(
    ("text", "posix_seconds", "offset_minutes"),
    [
        ("1985-04-12T23:20:50.52Z", 482196050.52, 0),
        ("1996-12-19T16:39:57-08:00", 851042397, -8 * 60),
        ("1937-01-01T12:00:27.87+00:20", -1041337172.13, 20),
        # Leap seconds: POSIX gives 23:59:60 the number of the second after it.
        ("1990-12-31T23:59:60Z", 662688000, 0),
        ("1990-12-31T15:59:60-08:00", 662688000, -8 * 60),
    ],
)
def test_example_of_section_5_8(text, posix_seconds, offset_minutes):
    moment = parse(text)
    assert moment.timestamp() == pytest.approx(posix_seconds, abs=1e-6)
    assert moment.utcoffset() == timedelta(minutes=offset_minutes)


def test_second_example_equals_its_utc_form_given_in_section_5_8():
    assert parse("1996-12-19T16:39:57-08:00") == parse("1996-12-20T00:39:57Z")


def test_both_leap_second_examples_are_one_moment():
    assert parse("1990-12-31T15:59:60-08:00") == parse("1990-12-31T23:59:60Z")


def test_unknown_local_offset_of_section_4_3_is_utc_told_apart():
    assert parse("2026-03-02T08:15:30-00:00") == parse("2026-03-02T08:15:30Z")
    assert parse("2026-03-02T08:15:30-00:00").tzinfo is OFFSET_UNKNOWN
    assert parse("2026-03-02T08:15:30+00:00").tzinfo is not OFFSET_UNKNOWN


@pytest.mark.parametrize("day", ["1972-06-30", "1998-12-31", "2015-06-30", "2016-12-31"])
def test_inserted_leap_second_of_appendix_d_and_later_is_read(day):
    assert parse(f"{day}T23:59:60Z") == parse(f"{day}T23:59:59Z") + timedelta(seconds=1)


@pytest.mark.parametrize("text", ["1990-12-31T23:58:60Z", "1990-12-31T23:59:60+08:00"])
def test_leap_second_elsewhere_is_refused_as_section_5_7_restricts(text):
    with pytest.raises(ValueError, match="leap second"):
        parse(text)
