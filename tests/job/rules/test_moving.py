"""From step to step: what holds the job up, going back, the way of a variant, the end."""

import pytest

from evidence_app.errors import Refused
from evidence_app.job import commands as c
from tests.job.bench import Bench


def test_step_that_owes_nothing_is_passed(bench):
    bench.work_to("open")
    bench.do(c.GoOn())
    assert bench.job.step.id == "clean"


def test_step_of_another_variant_is_left_out(bench):
    assert [step.id for step in bench.job.steps] == ["open", "clean", "press", "inspect", "shut"]


def test_step_of_the_variant_is_on_the_way(folder, clock, photos):
    radio = Bench(folder, clock, photos)
    with radio.open(variant="radio"):
        radio.work_to("open")
        radio.do(c.GoOn())
        assert radio.job.step.id == "spacers"


@pytest.mark.parametrize(
    ("step", "left_out", "named"),
    [
        ("press", "hold", "Hold for at least 10 seconds"),
        ("press", "gap", "Enter Gap in mm, at most 0.2 mm"),
        ("inspect", "strip", "Take the photo: The whole strip"),
        ("inspect", "finding", "Does the strip lie flat"),
    ],
)
def test_going_on_is_refused_naming_what_is_owed(bench, step, left_out, named):
    bench.work_to(step)
    for owed in bench.job.owed:
        if left_out in (owed.kind, owed.id):
            continue
        if owed.kind == "hold":
            bench.hold()
        elif owed.kind == "reading":
            bench.do(c.EnterReading(owed.id, "0.1"))
        elif owed.kind == "photo":
            sha = bench.photo(owed.id)
            if not bench.job.state.photo(sha).settled:
                bench.do(c.KeepPhoto(sha, "the part is in view"))
        elif left_out not in ("strip", "seam"):
            bench.do(c.GiveFinding("clear"))
    before = bench.job.state
    with pytest.raises(Refused, match=named):
        bench.do(c.GoOn())
    assert bench.job.state == before


def test_going_back_makes_nothing_owed(bench):
    bench.work_to("press")
    bench.do(c.GoBack())
    assert (bench.job.step.id, bench.job.owed) == ("clean", ())


def test_going_on_after_looking_back_needs_nothing_again(bench):
    bench.work_to("press")
    bench.do(c.GoBack(), c.GoBack(), c.GoOn(), c.GoOn())
    assert bench.job.step.id == "press"


def test_going_back_keeps_what_was_shown_at_the_later_step(bench):
    bench.work_to("press")
    bench.hold()
    bench.do(c.GoBack(), c.GoOn())
    assert [owed.kind for owed in bench.job.owed] == ["reading", "reading"]


def test_first_step_has_none_before_it(bench):
    bench.work_to("open")
    with pytest.raises(Refused, match="first step"):
        bench.do(c.GoBack())


def test_going_back_waits_for_a_running_hold(bench):
    bench.work_to("press")
    bench.do(c.StartHold())
    with pytest.raises(Refused, match="hold is running"):
        bench.do(c.GoBack())


def test_last_step_makes_the_job_ready_without_an_event(bench):
    bench.work_to("shut")
    assert bench.do(c.GoOn()) == ()
    assert bench.job.ready


def test_closing_records_a_completed_job(bench):
    bench.work_to("shut")
    (closed,) = bench.do(c.Close())
    assert closed.body == {"outcome": "completed", "reason": None}


def test_closing_before_the_last_step_is_refused(bench):
    bench.work_to("inspect")
    with pytest.raises(Refused, match="not the last step"):
        bench.do(c.Close())


def test_closing_waits_for_a_finding_made_void_by_looking_back(bench):
    bench.work_to("shut")
    bench.do(c.GoBack())
    bench.photo("strip")
    with pytest.raises(Refused, match="finding"):
        bench.do(c.GoOn())
    assert not bench.job.ready


def test_closed_job_takes_nothing_more(bench):
    bench.work_to("shut")
    bench.do(c.Close())
    with pytest.raises(Refused, match="closed"):
        bench.do(c.WriteNote("one more thing"))


def test_abandoning_states_its_reason(bench):
    bench.work_to("clean")
    (closed,) = bench.do(c.Abandon("The owner wants the unit back"))
    assert closed.body == {"outcome": "abandoned", "reason": "The owner wants the unit back"}


@pytest.mark.parametrize("reason", ["", "  ", "..."])
def test_abandoning_without_a_reason_is_refused(bench, reason):
    with pytest.raises(Refused):
        bench.do(c.Abandon(reason))


def test_each_owed_item_has_a_sentence_that_ends(bench):
    bench.prepare()
    bench.work_to("press")
    assert all(str(owed.sentence).endswith(".") for owed in bench.job.owed)
