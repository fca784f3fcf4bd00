"""Holds run on the monotonic clock of one boot and nothing shortens them.

A pressed mesh strip at least 10 s: common practice, no source.
"""

import pytest

from evidence_app.errors import Refused
from evidence_app.job import commands as c


@pytest.fixture
def pressing(bench):
    bench.work_to("press")
    return bench


def hold_owed(bench):
    return "hold" in [owed.kind for owed in bench.job.owed]


def test_hold_of_its_full_time_is_met(pressing):
    (ended,) = pressing.hold(10)
    assert ended.body == {"held_s": 10, "met": True, "reason": None}
    assert not hold_owed(pressing)


def test_early_release_is_recorded_and_owed_anew(pressing):
    (ended,) = pressing.hold(9.999)
    assert ended.body == {"held_s": 9.999, "met": False, "reason": "early"}
    assert hold_owed(pressing)


def test_two_short_holds_do_not_make_a_long_one(pressing):
    pressing.hold(6)
    pressing.hold(6)
    assert hold_owed(pressing)


def test_hold_beyond_its_longest_time_is_not_met(pressing):
    (ended,) = pressing.hold(60.001)
    assert ended.body == {"held_s": 60.001, "met": False, "reason": "too-long"}
    assert hold_owed(pressing)


def test_setting_the_wall_clock_forward_does_not_shorten_a_hold(pressing):
    pressing.do(c.StartHold())
    pressing.clock.set_wall("2026-03-02T12:00:00.000+01:00")
    ended = pressing.do(c.EndHold())[-1]
    assert (ended.body["held_s"], ended.body["met"]) == (2, False)


def test_setting_the_wall_clock_back_does_not_lengthen_a_hold(pressing):
    pressing.do(c.StartHold())
    pressing.clock.set_wall("2026-03-02T07:00:00.000+01:00")
    pressing.clock.advance(10)
    ended = pressing.do(c.EndHold())[-1]
    assert (ended.body["held_s"], ended.body["met"]) == (12, True)


def test_remaining_time_is_told_to_the_microsecond(pressing):
    pressing.do(c.StartHold())
    pressing.clock.advance(2.5)
    assert pressing.job.state.hold_remaining(pressing.clock.now()) == 7.5


def test_nothing_remains_after_the_full_time(pressing):
    pressing.do(c.StartHold())
    pressing.clock.advance(11)
    assert pressing.job.state.hold_remaining(pressing.clock.now()) == 0


def test_no_remaining_time_without_a_hold(pressing):
    assert pressing.job.state.hold_remaining(pressing.clock.now()) is None


def test_hold_goes_on_while_the_app_is_away(pressing):
    pressing.do(c.StartHold())
    pressing.clock.advance(9)
    pressing.resume()
    ended = pressing.do(c.EndHold())[-1]
    assert (ended.body["held_s"], ended.body["met"]) == (11, True)


def test_restart_of_the_machine_loses_the_hold(pressing):
    pressing.do(c.StartHold())
    pressing.clock.restart(away_s=30)
    pressing.resume()
    assert pressing.kinds()[-3:] == ["machine-restarted", "job-resumed", "hold-lost"]
    assert hold_owed(pressing)


def test_restart_without_closing_the_app_loses_the_hold(pressing):
    """A virtual machine that is set back to an earlier moment, for instance."""
    pressing.do(c.StartHold())
    pressing.clock.restart()
    events = pressing.do(c.WriteNote("The picture froze"))
    assert [event.kind for event in events] == ["machine-restarted", "hold-lost", "note-written"]


def test_hold_after_a_lost_one_is_met(pressing):
    pressing.do(c.StartHold())
    pressing.clock.restart()
    pressing.resume()
    pressing.hold(10)
    assert not hold_owed(pressing)


def test_second_start_is_refused(pressing):
    pressing.do(c.StartHold())
    with pytest.raises(Refused, match="running already"):
        pressing.do(c.StartHold())


def test_end_without_a_start_is_refused(pressing):
    with pytest.raises(Refused, match="no hold is running"):
        pressing.do(c.EndHold())


def test_hold_where_none_is_asked_is_refused(bench):
    bench.work_to("open")
    with pytest.raises(Refused, match="no hold"):
        bench.do(c.StartHold())


def test_newest_hold_counts(pressing):
    pressing.hold(12)
    pressing.hold(3)
    assert hold_owed(pressing)
