"""RFC 3339 times beyond the standard's own examples (those are in tests/outside)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest

from evidence_app.record.times import format_ms, parse

CET = timezone(timedelta(hours=1))


def test_milliseconds_are_cut_not_rounded():
    moment = datetime(2026, 3, 2, 8, 15, 30, 999_999, CET)
    assert format_ms(moment) == "2026-03-02T08:15:30.999+01:00"


def test_time_without_offset_is_not_written():
    with pytest.raises(ValueError, match="offset"):
        format_ms(datetime(2026, 3, 2))


def test_written_time_reads_back():
    moment = datetime(2026, 3, 2, 8, 15, 30, 123_000, CET)
    assert parse(format_ms(moment)) == moment


def test_unknown_offset_is_kept_apart_from_utc():
    assert format_ms(parse("2026-03-02T08:15:30.123-00:00")).endswith("-00:00")
    assert format_ms(parse("2026-03-02T08:15:30.123+00:00")).endswith("+00:00")


def test_leap_second_follows_the_second_before_and_meets_the_next_minute():
    assert parse("2016-12-31T23:59:60.5Z") == datetime(2017, 1, 1, 0, 0, 0, 500_000, UTC)


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-02",
        "2026-03-02 08:15:30Z",
        "2026-03-02T08:15Z",
        "2026-03-02T08:15:30",
        "2026-03-02T08:15:30.Z",
        "2026-03-02T08:15:30,5Z",
        "2026-03-02T08:15:30+0100",
        "2026-03-02T08:15:30+24:00",
        "2026-03-02T08:15:30+01:60",
        "2026-02-29T08:15:30Z",
        "2026-13-01T08:15:30Z",
        "2026-03-02T24:00:00Z",
        "2026-03-02T08:60:00Z",
        "2026-03-02T08:15:61Z",
        "2026-03-02T08:15:60Z",
        "2026-12-31T23:59:60+01:00",
        "2026-03-30T23:59:60Z",
        "0000-01-01T00:00:00Z",
        "0001-01-01T00:00:00+01:00",
        "9999-12-31T23:59:60Z",
        "２０２６-03-02T08:15:30Z",
        "2026-W10-1T08:15:30Z",
        "2026-03-02T08:15:30Z\n",
        "",
    ],
)
def test_other_spellings_are_refused(text):
    with pytest.raises(ValueError, match=r"RFC 3339|not a time that exists"):
        parse(text)
