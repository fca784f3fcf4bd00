"""A reason is typed once; those typed before, and those of the step list, are touched."""

from __future__ import annotations

import pytest

from evidence_app.locations import sample
from evidence_app.steplist.load import load
from evidence_app.tablet.settings import load_settings

REASONS = [f"The lamp failed, trial {number}." for number in range(12)]


@pytest.fixture
def at_step(tablet):
    driver = tablet(size=(1024, 600))
    driver.at_first_step()
    return driver


def offered(driver) -> list[str]:
    """What the plates say, from the first to the last."""
    return [plate.text for plate in driver.root.plates() if plate.action.startswith("offered ")]


def ask(driver, what: str) -> None:
    driver.touch("stop")
    driver.touch(what)


def abandon(driver, reason: str) -> None:
    """And begin the next job, at its first step."""
    ask(driver, "abandon")
    driver.type(reason)
    driver.touch("record")
    driver.root.screen.pause()
    driver.settle()
    driver.at_first_step("stopped-at-residue")


def test_a_stop_offers_what_the_step_list_stops_for_but_not_the_rule_without_a_reason(at_step):
    ask(at_step, "stop-repair")
    steps = load(sample("ossmere-h7-window-rebond.toml"))
    own = {rule.id: rule.reason for rule in steps.stop_rules}
    assert offered(at_step) == [r for i, r in own.items() if i != "stopped-by-technician"]


def test_what_was_touched_is_recorded_as_what_is_typed(at_step):
    ask(at_step, "stop-repair")
    reason = offered(at_step)[1]
    at_step.touch("offered 2")
    assert not at_step.job.state.stop  # it can still be changed
    at_step.touch("record")
    touched = at_step.job.state.stop
    assert (touched.reason, touched.rule, touched.by) == (reason, "stopped-by-technician", "technician")


def test_a_touched_reason_can_be_gone_on_with_on_the_keys(at_step):
    ask(at_step, "stop-repair")
    at_step.touch("offered 2")
    reason = at_step.root.screen._value
    at_step.touch("swap-offered")
    at_step.touch("key Q")
    at_step.touch("record")
    assert at_step.job.state.stop.reason == f"{reason}Q"


def test_the_first_reason_of_a_kind_is_asked_for_with_the_keys(at_step):
    ask(at_step, "abandon")
    assert not offered(at_step)
    assert "key Q" in at_step.actions()


def test_the_last_ten_that_were_typed_are_offered_the_newest_first_and_none_twice(at_step):
    for reason in (REASONS[5], *REASONS, REASONS[5]):
        at_step.root.screen.ask_reason("abandon", "Why?", lambda _: None, at_step.root.home)
        at_step.type(reason)
        at_step.touch("record")
        at_step.root.home()
    at_step.root.home()
    ask(at_step, "abandon")
    newest = [REASONS[5], *(r for r in reversed(REASONS) if r != REASONS[5])]
    assert offered(at_step) == newest[:10]
    assert load_settings()[0].reasons["abandon"] == tuple(newest[:10])


def test_a_reason_is_offered_again_in_the_next_job_and_after_the_app_was_started_anew(at_step, tablet):
    abandon(at_step, REASONS[0])
    ask(at_step, "abandon")
    assert offered(at_step) == [REASONS[0]]
    at_step.app.on_stop()
    again = tablet(size=(1024, 600), reasons=load_settings()[0].reasons)
    job = "job " + at_step.job.record.folder.name
    again.until(lambda: job in again.actions(), "the job")
    again.touch(job)
    ask(again, "abandon")
    again.touch("offered 1")
    again.touch("record")
    assert again.job.record.events[-1].body["reason"] == REASONS[0]


def test_a_reason_for_one_thing_is_not_offered_for_another(at_step):
    abandon(at_step, REASONS[0])
    ask(at_step, "stop-repair")
    assert REASONS[0] not in offered(at_step)


def test_a_reason_of_the_step_list_takes_no_place_among_the_typed_ones(at_step):
    ask(at_step, "stop-repair")
    at_step.touch("offered 1")
    at_step.touch("record")
    assert at_step.place.settings.reasons["stop"] == ()


def test_why_another_units_serial_is_recorded_is_offered_the_second_time(at_step):
    def other_unit() -> None:
        at_step.touch("main")
        at_step.type("H7-204-11837")
        at_step.touch("record")
        at_step.touch("outside")

    other_unit()
    at_step.type("The plate was exchanged.")
    at_step.touch("back")
    other_unit()
    assert not offered(at_step)  # not recorded, so not kept
    at_step.type("The plate was exchanged.")
    at_step.touch("record")
    assert at_step.place.settings.reasons["serial"] == ("The plate was exchanged.",)
    written = [e.body["text"] for e in at_step.job.record.events if e.kind == "note-written"]
    assert written[-1].endswith(". The plate was exchanged.")
