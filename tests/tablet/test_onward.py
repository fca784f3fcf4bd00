"""What is required next opens by itself, one touch leads back, and a finding stands beside its photos."""

from __future__ import annotations

import pytest

from evidence_app.job import commands as c
from evidence_app.locations import sample
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import load_session
from evidence_app.tablet.presenting.working.stop import stop_shown
from tests.job.bench import Bench, Photos
from tests.tablet.talking import at_work


def _played_to(tablet, step: str, screen: str = "step"):
    """At that screen of that step, all before it done by touch."""
    session = load_session(sample("completed.session.toml"))
    driver = tablet(size=(1024, 600), clock=PracticeClock(session.begins))
    driver.looks_again = False
    driver.begin("completed")
    driver.play(session, lambda d: d.job.state.step == step and d.screen == screen)
    return driver


def _resumed_at(tablet, step: str, screen: str = "step"):
    """As ``_played_to``, but what came before the step was done at the command line."""
    session = load_session(sample("completed.session.toml"))
    clock = PracticeClock(session.begins)
    folder = at_work(session, clock, step)
    driver = tablet(size=(1024, 600), clock=clock)
    driver.looks_again = False
    driver.place.resume(folder, driver.root.home)
    driver.until(lambda: driver.job is not None, "the job")
    driver.settle()
    driver.place.dismiss("resumed")
    driver.play(session, lambda d: d.job.state.step == step and d.screen == screen)
    return driver


def _shot(driver) -> None:
    driver.until(lambda: "shutter" in driver.actions(), "the picture")
    visit = driver.root.visit
    driver.touch("shutter")
    driver.until(lambda: driver.root.visit != visit, "what opens then")
    driver.settle()


def test_the_next_photo_opens_by_itself_and_after_the_last_the_finding(tablet):
    driver = _resumed_at(tablet, "photograph-slots")
    driver.touch("main")
    _shot(driver)
    assert driver.screen == "camera"
    assert "Right slot from straight above" in driver.texts()
    assert "The photo before is safe and passes every check." in driver.texts()
    driver.touch("photo-before")
    assert driver.screen == "photo"
    driver.touch("step")
    assert driver.screen == "camera"
    driver.touch("back")
    assert driver.screen == "step"
    driver.touch("main")
    _shot(driver)
    assert driver.screen == "finding"
    assert sum(a.startswith("look ") for a in driver.actions()) == 2
    driver.touch("back")
    assert driver.screen == "step"
    driver.touch("main")
    driver.touch("finding clear")
    assert driver.job.state.step == "remove-fasteners"
    driver.touch("take-back")
    assert driver.job.state.step == "photograph-slots"


def test_after_a_reading_the_photo_of_its_step_opens(tablet):
    driver = tablet(size=(1024, 600))
    driver.at_first_step()
    driver.touch("main")
    driver.type("H7-204-11873")
    driver.touch("record")
    assert driver.screen == "camera"


def test_after_a_hold_the_reading_of_its_step_opens(tablet):
    driver = _resumed_at(tablet, "warm-window", "hold")
    driver.touch("start")
    driver.clock.advance(driver.job.step.hold.at_least_s + 3)
    driver.until(lambda: "end" in driver.actions(), "the hold to be long enough")
    driver.touch("end")
    assert driver.screen == "entry"
    driver.touch("back")
    assert driver.screen == "step"


def test_a_finding_stands_beside_the_photo_its_clean_reference_and_what_was_measured(tablet):
    driver = _played_to(tablet, "inspect-slots", "finding")
    driver.until(lambda: driver.root.screen.pane._photo is not None, "the photo")
    driver.settle()
    assert {"Now", "Clean"} <= set(driver.texts().split("\n"))
    assert "No difference found in the" in driver.texts()
    plates = [p for p in driver.root.plates() if p.action.startswith("look ")]
    assert len(plates) == 4
    driver.until(
        lambda: all(p.picture for p in driver.root.plates() if p.action.startswith("look ")), "all"
    )
    driver.touch("look 0")
    assert "the clean reference" not in driver.texts()


def test_every_photo_stands_small_on_its_tile_and_in_entries(tablet):
    driver = _resumed_at(tablet, "photograph-slots", "finding")
    driver.touch("back")
    for words in ("Photo: ", "Photo taken of"):
        driver.until(
            lambda words=words: [p for p in driver.root.plates() if p.text.find(words) >= 0 and p.picture],
            "a small picture",
        )
        driver.touch("lookback") if driver.screen == "step" else None


@pytest.mark.parametrize(("step", "held"), [("open", {"cell"}), ("clean", {"cell"})])
def test_a_stopped_repair_shows_the_cautions_that_were_met(tmp_path, step, held):
    bench = Bench(tmp_path / "job", PracticeClock("2026-03-02T08:00:00.000+01:00"), Photos())
    with bench.open() as job:
        bench.work_to(step)
        bench.do(c.StopRepair("The lamp failed"))
        assert {x.id for x in stop_shown(job.step_list, job.state).cautions} == held
