"""Taking back: the newest entry, within five seconds, with nothing erased."""

import pytest

from evidence_app.devices.watch import DeviceLost
from evidence_app.errors import Refused
from evidence_app.job import commands as c
from evidence_app.job.state.fold import fold
from evidence_app.sentence import Sentence


@pytest.fixture
def inspecting(bench):
    bench.work_to("inspect")
    bench.settle()
    return bench


def same_but_history(state, other):
    """Whether two states are alike but for their place in the journal."""
    import msgspec

    plain = [msgspec.structs.replace(s, sequence=0, taken_back=frozenset(), undo=None)
             for s in (state, other)]  # fmt: skip
    return plain[0] == plain[1]


@pytest.mark.parametrize(
    ("step", "command"),
    [
        (None, c.AcknowledgeCaution("cell")),
        (None, c.TickItem("tools", "roller")),
        ("open", c.GoOn()),
        ("press", c.GoBack()),
        ("press", c.StartHold()),
        ("press", c.EnterReading("gap", "0.1")),
    ],
)
def test_state_is_as_before_the_entry(bench, step, command):
    if step:
        bench.work_to(step)
    before = bench.job.state
    (event,) = bench.do(command)
    bench.do(c.TakeBack(event.sequence))
    assert same_but_history(bench.job.state, before)


def test_entry_taken_back_stays_in_the_journal(inspecting):
    (given,) = inspecting.do(c.GiveFinding("clear"))
    inspecting.do(c.TakeBack(given.sequence))
    assert inspecting.job.record.events[given.sequence - 1] == given
    assert given.sequence in inspecting.job.state.taken_back


def test_redo_goes_with_its_finding(inspecting):
    before = inspecting.job.state
    given, _ = inspecting.do(c.GiveFinding("not-clear"))
    inspecting.do(c.TakeBack(given.sequence))
    assert same_but_history(inspecting.job.state, before)


def test_redo_taken_back_is_not_counted(inspecting):
    for _ in range(3):
        given, _ = inspecting.do(c.GiveFinding("not-clear"))
        inspecting.do(c.TakeBack(given.sequence))
    assert inspecting.job.state.redos("inspect") == 0


def test_hold_ended_by_mistake_runs_on(bench):
    bench.work_to("press")
    bench.do(c.StartHold())
    (ended,) = bench.do(c.EndHold())
    bench.do(c.TakeBack(ended.sequence))
    bench.clock.advance(4)
    (again,) = bench.do(c.EndHold())
    assert again.body == {"held_s": 10, "met": True, "reason": None}


def test_five_seconds_are_enough_and_more_are_not(bench):
    bench.work_to("press")
    (event,) = bench.do(c.EnterReading("gap", "0.1"))
    bench.clock.advance(5)
    assert bench.job.state.can_take_back(bench.clock.now()) == event.sequence
    bench.clock.advance(0.000001)
    with pytest.raises(Refused, match="5 seconds"):
        bench.job.do(c.TakeBack(event.sequence))


def test_wall_clock_does_not_lengthen_the_five_seconds(bench):
    bench.work_to("press")
    (event,) = bench.do(c.EnterReading("gap", "0.1"))
    bench.clock.advance(6)
    bench.clock.set_wall(event.wall)
    with pytest.raises(Refused):
        bench.job.do(c.TakeBack(event.sequence))


def test_restart_ends_the_time_for_taking_back(bench):
    bench.work_to("press")
    (event,) = bench.do(c.EnterReading("gap", "0.1"))
    bench.clock.restart()
    with pytest.raises(Refused):
        bench.job.do(c.TakeBack(event.sequence))


def test_only_the_newest_entry_can_be_taken_back(bench):
    bench.work_to("press")
    bench.clock.advance(60)
    first = bench.job.do(c.EnterReading("gap", "0.1"))[-1]
    bench.job.do(c.EnterReading("part", "MS-4"))
    with pytest.raises(Refused, match="newest"):
        bench.job.do(c.TakeBack(first.sequence))


def test_move_cannot_be_taken_back_after_a_photo_there(bench):
    bench.work_to("open")
    (entered,) = bench.do(c.GoOn())
    bench.photo("slot")
    with pytest.raises(Refused):
        bench.job.do(c.TakeBack(entered.sequence))


def test_device_report_between_does_not_matter(bench):
    bench.work_to("press")
    (event,) = bench.do(c.EnterReading("gap", "0.1"))
    bench.do(c.ReportDevice(DeviceLost("camera", "bench camera", Sentence("unplugged"))))
    bench.do(c.TakeBack(event.sequence))
    assert bench.job.state.reading_of("press", "gap") is None
    assert bench.job.state.lost_devices == {"camera"}


def test_stop_cannot_be_taken_back(bench):
    bench.work_to("clean")
    bench.settle()
    given, stopped = bench.do(c.GiveFinding("not-clear"))
    for event in (given, stopped):
        with pytest.raises(Refused):
            bench.job.do(c.TakeBack(event.sequence))


def test_photo_cannot_be_taken_back(bench):
    bench.work_to("clean")
    bench.photo("slot")
    with pytest.raises(Refused):
        bench.job.do(c.TakeBack(bench.last("photo-taken").sequence))


def test_taking_back_cannot_be_taken_back(bench):
    bench.work_to("press")
    (event,) = bench.do(c.EnterReading("gap", "0.1"))
    (back,) = bench.do(c.TakeBack(event.sequence))
    with pytest.raises(Refused):
        bench.job.do(c.TakeBack(back.sequence))


def test_folding_the_journal_again_gives_the_same_state(inspecting):
    given, _ = inspecting.do(c.GiveFinding("not-clear"))
    inspecting.do(c.TakeBack(given.sequence), c.GiveFinding("clear"))
    assert same_but_history(fold(inspecting.job.record.events), inspecting.job.state)
