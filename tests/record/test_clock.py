"""What two readings of both clocks show, and that the record says so."""

from __future__ import annotations

import subprocess
import sys
from datetime import timedelta

import pytest

from evidence_app.record.clock import SystemClock, boot_id, clock_changes, derived_boot_id
from evidence_app.record.event import Draft
from evidence_app.record.times import parse


def kinds_after(record, *, change) -> list[str]:
    record.append(Draft("job-opened", {}))
    change()
    return [event.kind for event in record.append(Draft("note-written", {"text": "x"}))]


def test_steady_clock_adds_nothing(record, clock):
    assert kinds_after(record, change=lambda: clock.advance(3600)) == ["note-written"]


def test_wall_set_back_an_hour_is_recorded_before_the_event(record, clock):
    kinds = kinds_after(record, change=lambda: clock.advance(10, wall_seconds=-3590))
    assert kinds == ["clock-stepped", "note-written"]
    assert record.events[1].body == {"by_s": -3600, "earlier": True}


def test_wall_set_forward_is_recorded(record, clock):
    kinds_after(record, change=lambda: clock.advance(10, wall_seconds=70))
    assert record.events[1].body == {"by_s": 60, "earlier": False}


def test_wall_a_millisecond_earlier_is_recorded(record, clock):
    kinds = kinds_after(record, change=lambda: clock.advance(0.5, wall_seconds=-0.001))
    assert kinds == ["clock-stepped", "note-written"]


@pytest.mark.parametrize(("off_s", "noticed"), [(2.0, False), (2.1, True), (-2.1, True)])
def test_tolerance_is_two_seconds_over_short_times(record, clock, off_s, noticed):
    kinds = kinds_after(record, change=lambda: clock.advance(100 / 1e6, 100 / 1e6 + off_s))
    assert ("clock-stepped" in kinds) is noticed


@pytest.mark.parametrize(("off_s", "noticed"), [(44, False), (46, True)])
def test_tolerance_grows_by_500_parts_in_a_million(record, clock, off_s, noticed):
    day = 24 * 3600
    kinds = kinds_after(record, change=lambda: clock.advance(day, day + off_s))
    assert ("clock-stepped" in kinds) is noticed


def test_change_of_time_zone_is_not_a_step(record, clock):
    def travel():
        clock.advance(60)
        clock.wall = clock.wall.astimezone(parse("2026-01-01T00:00:00-08:00").tzinfo)

    assert kinds_after(record, change=travel) == ["note-written"]


def test_restart_is_recorded_with_the_boot_before(record, clock):
    def restart():
        clock.wall += timedelta(minutes=5)
        clock.boot, clock.mono_s = "boot-2", 12.0

    assert kinds_after(record, change=restart) == ["machine-restarted", "note-written"]
    assert record.events[1].body == {"previous_boot": "boot-1"}


def test_restart_with_an_earlier_wall_clock_records_both(record, clock):
    def restart():
        clock.wall -= timedelta(days=1)
        clock.boot = "boot-2"

    assert kinds_after(record, change=restart) == ["machine-restarted", "clock-stepped", "note-written"]


def test_monotonic_clock_running_backwards_counts_as_restart(record, clock):
    kinds = kinds_after(record, change=lambda: clock.advance(-5, wall_seconds=5))
    assert kinds == ["machine-restarted", "note-written"]


def test_step_is_recorded_once(record, clock):
    kinds_after(record, change=lambda: clock.advance(10, wall_seconds=-3590))
    clock.advance(1)
    assert [event.kind for event in record.append(Draft("job-left", {}))] == ["job-left"]


def test_system_clock_agrees_with_itself():
    clock = SystemClock()
    earlier, later = clock.now(), clock.now()
    assert earlier.mono_us <= later.mono_us
    assert clock_changes(earlier, later) == []


def test_system_wall_time_has_milliseconds_and_offset():
    wall = SystemClock().now().wall
    assert len(wall) == len("2026-03-02T08:15:30.123+01:00")
    assert parse(wall).utcoffset() is not None


def test_two_processes_see_the_same_boot():
    command = "from evidence_app.record.clock import boot_id; print(boot_id())"
    other = subprocess.run([sys.executable, "-c", command], capture_output=True, text=True)
    assert other.stdout.strip() == boot_id()


@pytest.mark.skipif(sys.platform != "linux", reason="reads the kernel's uptime")
def test_monotonic_clock_counts_from_boot_with_suspend():
    with open("/proc/uptime", encoding="ascii") as file:
        uptime_s = float(file.read().split()[0])
    assert SystemClock().now().mono_us / 1e6 == pytest.approx(uptime_s, abs=1)


def test_derived_boot_stays_the_same_while_the_machine_runs():
    started = 1_772_000_040.0
    assert derived_boot_id(started + 100, 100) == derived_boot_id(started + 90_003, 90_000)


def test_derived_boot_differs_after_a_restart():
    assert derived_boot_id(1_772_000_100, 100) != derived_boot_id(1_772_000_400, 20)
