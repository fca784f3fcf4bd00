"""The practice clock: it moves when told to, and can be set wrong on purpose."""

from __future__ import annotations

import pytest

from evidence_app.errors import RecordError
from evidence_app.practice.clock import PracticeClock
from evidence_app.record.clock import clock_changes
from tests.restarting import RestartingClock

START = "2026-03-02T08:15:30.123+01:00"


def test_clock_stands_still_until_it_is_advanced():
    clock = PracticeClock(START)
    assert clock.now() == clock.now()
    assert clock.now().wall == START


def test_advancing_moves_wall_and_monotonic_time_alike():
    clock = PracticeClock(START)
    before = clock.now()
    clock.advance(90.5)
    assert clock.now().wall == "2026-03-02T08:17:00.623+01:00"
    assert clock.now().mono_us - before.mono_us == 90_500_000


def test_many_small_steps_do_not_drift():
    clock = PracticeClock(START)
    before = clock.now()
    for _ in range(1000):
        clock.advance(0.001)
    assert clock.now().mono_us - before.mono_us == 1_000_000
    assert clock.now().wall == "2026-03-02T08:15:31.123+01:00"


def test_setting_the_wall_clock_leaves_the_monotonic_one():
    clock = PracticeClock(START)
    before = clock.now()
    clock.set_wall("2026-03-02T07:15:30+01:00")
    assert clock.now().wall == "2026-03-02T07:15:30.000+01:00"
    assert (clock.now().mono_us, clock.now().boot) == (before.mono_us, before.boot)


def test_record_sees_the_wall_clock_set_back():
    clock = PracticeClock(START)
    before = clock.now()
    clock.set_wall("2026-03-02T07:15:30.123+01:00")
    assert clock_changes(before, clock.now())


def test_each_restart_is_another_boot_and_begins_low():
    clock = RestartingClock(START, boot="practice-demo")
    clock.advance(1000)
    seen = [clock.now().boot]
    for _ in range(2):
        clock.restart(away_s=60)
        seen.append(clock.now().boot)
    assert len(set(seen)) == 3
    assert seen[0] == "practice-demo"
    assert clock.now().mono_us < 1_000_000_000
    assert clock.now().wall == "2026-03-02T08:34:10.123+01:00"


def test_time_does_not_run_backwards():
    with pytest.raises(ValueError):
        PracticeClock(START).advance(-1)


@pytest.mark.parametrize("text", ["", "yesterday", "2026-03-02T08:15:30", "2026-02-30T08:00:00Z"])
def test_time_that_cannot_be_read_is_one_sentence(text):
    with pytest.raises(RecordError, match="not a time"):
        PracticeClock(text)
