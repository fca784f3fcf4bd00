"""Findings lead where the step list says: on, back to do it again, or to a stop."""

import pytest

from evidence_app.errors import Refused
from evidence_app.job import commands as c


@pytest.fixture
def inspecting(bench):
    """At the checkpoint whose finding can send the work back, with its photos taken."""
    bench.work_to("inspect")
    bench.settle()
    return bench


def redo(bench):
    """Finding not clear, and the work done again up to the same checkpoint."""
    bench.do(c.GiveFinding("not-clear"))
    while bench.job.step.id != "inspect":
        bench.pass_step()
    bench.settle()


def test_finding_is_refused_while_photos_are_owed(bench):
    bench.work_to("inspect")
    bench.photo("strip")
    with pytest.raises(Refused, match="The seam with the card"):
        bench.do(c.GiveFinding("clear"))


def test_finding_where_none_is_asked_is_refused(bench):
    bench.work_to("press")
    with pytest.raises(Refused, match="no finding"):
        bench.do(c.GiveFinding("clear"))


def test_clear_finding_is_recorded_and_does_not_move(inspecting):
    (given,) = inspecting.do(c.GiveFinding("clear"))
    assert given.body["leads_to"] == {"action": "go-on", "step": None, "rule": None}
    assert inspecting.job.step.id == "inspect"


def test_redo_moves_at_once_to_the_named_step(inspecting):
    given, entered = inspecting.do(c.GiveFinding("not-clear"))
    assert given.body["leads_to"] == {"action": "redo", "step": "press", "rule": None}
    assert (entered.step, entered.body) == ("press", {"reason": "redo", "from": "inspect"})


def test_redo_makes_everything_from_the_named_step_owed_anew(inspecting):
    inspecting.do(c.GiveFinding("not-clear"))
    at_press = [owed.kind for owed in inspecting.job.owed]
    inspecting.pass_step()
    assert at_press == ["hold", "reading", "reading"]
    assert [owed.kind for owed in inspecting.job.owed] == ["photo", "photo", "finding"]


def test_redo_keeps_what_was_shown_before_in_the_record(inspecting):
    before = inspecting.job.record.events
    inspecting.do(c.GiveFinding("not-clear"))
    assert inspecting.job.record.events[: len(before)] == before
    assert len(inspecting.job.state.photos) == 3


def test_redo_leaves_earlier_steps_as_they_are(inspecting):
    inspecting.do(c.GiveFinding("not-clear"), c.GoBack())
    assert (inspecting.job.step.id, inspecting.job.owed) == ("clean", ())


def test_photo_after_a_redo_is_no_retake(inspecting):
    redo(inspecting)
    assert inspecting.last("photo-taken").body["retake_of"] is None


def test_redo_beyond_its_limit_stops_the_repair(inspecting):
    redo(inspecting)
    redo(inspecting)
    given, stopped = inspecting.do(c.GiveFinding("not-clear"))
    assert given.body["leads_to"] == {"action": "stop", "step": None, "rule": "set-aside"}
    assert stopped.body["by"] == "redo-limit"


def test_redo_without_a_limit_can_be_done_again_and_again(inspecting):
    for _ in range(3):
        inspecting.do(c.GiveFinding("cannot-tell"))
        inspecting.settle()
    assert inspecting.job.state.phase == "working"


def test_finding_that_stops_stops_at_once(bench):
    bench.work_to("clean")
    bench.settle()
    given, stopped = bench.do(c.GiveFinding("not-clear"))
    assert given.body["leads_to"] == {"action": "stop", "step": None, "rule": "residue"}
    assert stopped.body == {
        "rule": "residue",
        "by": "finding",
        "reason": "Residue in the slot",
        "disposition": "Exchange the whole unit.",
        "prohibitions": ["Do not pull anything out through the slot."],
    }


def test_photo_after_a_finding_makes_the_finding_owed_anew(inspecting):
    inspecting.do(c.GiveFinding("clear"))
    inspecting.photo("strip")
    assert [owed.kind for owed in inspecting.job.owed] == ["finding"]


def test_person_can_change_the_finding_before_going_on(inspecting):
    inspecting.do(c.GiveFinding("clear"), c.GiveFinding("not-clear"))
    assert inspecting.job.step.id == "press"


def test_same_finding_twice_is_refused(inspecting):
    inspecting.do(c.GiveFinding("clear"))
    with pytest.raises(Refused, match="already recorded"):
        inspecting.do(c.GiveFinding("clear"))
