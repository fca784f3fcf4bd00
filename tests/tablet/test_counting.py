"""What comes out and goes in is counted by touch: as listed with one touch, else with a reason."""

from __future__ import annotations

import pytest

from evidence_app.locations import sample
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import load_session
from tests.tablet.talking import at_work


def at(tablet, step: str, size=(1280, 800), **settings):
    """At that step, what came before it done at the command line."""
    session = load_session(sample("completed.session.toml"))
    clock = PracticeClock(session.begins)
    folder = at_work(session, clock, step)
    driver = tablet(size=size, clock=clock, **settings)
    driver.place.resume(folder, driver.root.home)
    driver.until(lambda: driver.job is not None, "the job")
    driver.settle()
    driver.place.dismiss("resumed")
    driver.settle()
    return driver


def counted(driver) -> list[tuple]:
    found = [e.body for e in driver.job.record.events if e.kind == "pieces-counted"]
    return [(x["thing"], x["goes"], x["count"], x["other"], x["reason"]) for x in found]


def test_the_number_listed_is_one_touch_and_the_next_touch_goes_on(tablet):
    driver = at(tablet, "remove-fasteners")
    assert "Count out: 8 × Rim fasteners, M1.6 × 4, six-lobe, countersunk, window rim" in driver.texts()
    before = len(counted(driver))
    driver.touch("main")
    assert counted(driver)[before:] == [("rim-fasteners", "out", 8, None, None)]
    assert "counted: 8" in driver.texts()
    driver.touch("next")
    assert driver.job.state.step == "cover-slots"


def test_another_number_is_recorded_with_its_reason(tablet):
    driver = at(tablet, "remove-fasteners")
    driver.touch("count rim-fasteners")
    assert driver.screen == "count"
    driver.look()
    driver.touch("minus")
    assert "7" in driver.texts()
    driver.look("count-seven")
    driver.touch("record")
    assert driver.screen == "entry"
    driver.type("one was missing when it came")
    driver.touch("record")
    assert counted(driver)[-1] == ("rim-fasteners", "out", 7, None, "one was missing when it came")
    assert driver.screen == "step"


def test_plus_and_minus_keep_to_what_can_be_counted(tablet):
    driver = at(tablet, "cover-slots")
    driver.touch("count slot-tape")
    for _ in range(3):
        driver.touch("minus")
    driver.touch("plus")
    driver.touch("plus")
    assert "Counted as listed" in driver.texts()
    driver.touch("record")
    assert counted(driver)[-1] == ("slot-tape", "in", 2, None, None)


def test_a_photo_of_the_tray_is_taken_from_there_and_named_by_the_count(tablet):
    driver = at(tablet, "remove-fasteners")
    driver.touch("count rim-fasteners")
    driver.touch("minus")
    driver.touch("tray")
    driver.until(lambda: "shutter" in driver.actions(), "a picture")
    driver.touch("shutter")
    driver.until(lambda: driver.screen == "count", "the count again")
    driver.settle()
    driver.look("count-photo")
    assert "7" in driver.texts() and "Counted on this photo" in driver.texts()
    driver.touch("plus")
    driver.touch("record")
    event = [e for e in driver.job.record.events if e.kind == "pieces-counted"][-1]
    taken = [e for e in driver.job.record.events if e.kind == "photo-taken"][-1]
    assert event.body["photo"] == taken.body["photo"]["sha256"]
    assert taken.body["purpose"] == "note"


def test_pieces_of_another_kind_are_named_with_a_reason(tablet):
    driver = at(tablet, "cover-slots")
    driver.touch("count slot-tape")
    driver.touch("other-kind")
    driver.type("one strip of cover film")
    driver.touch("record")
    driver.type("the tape ran out")
    driver.touch("record")
    assert counted(driver)[-1] == ("slot-tape", "in", 2, "one strip of cover film", "the tape ran out")


def test_a_missing_piece_stops_the_repair_under_its_rule(tablet):
    driver = at(tablet, "remove-fasteners")
    driver.touch("count rim-fasteners")
    assert "missing" not in driver.actions()
    driver.touch("minus")
    driver.touch("missing")
    driver.look("missing")
    driver.touch("offered 1")
    driver.touch("record")
    driver.until(lambda: driver.job.state.phase == "stopped", "the stop")
    assert driver.job.state.stop.rule == "piece-missing"
    driver.settle()
    assert "because a piece is missing" in driver.texts()


def test_the_ledger_is_shown_among_the_entries(tablet):
    driver = at(tablet, "remove-fasteners")
    driver.touch("main")
    driver.touch("lookback")
    driver.touch("ledger")
    driver.look()
    assert "Rim fasteners, M1.6 × 4, six-lobe, countersunk, window rim" in driver.texts()
    assert "Out: 8 of 8. In: 0 of 8. Difference: not all counted." in driver.texts()
    driver.touch("back")
    assert "What came out and went in" not in driver.texts() and "Counts" in driver.texts()


def test_the_end_shows_the_ledger_with_its_reasons(tablet):
    driver = at(tablet, "release")
    driver.touch("main")
    driver.type("NQ-55120")
    driver.touch("record")
    driver.touch("main")
    assert driver.screen == "finish"
    driver.look()
    assert "Out: 8 of 8. In: 8 of 8. Difference: none." in driver.texts()


@pytest.mark.parametrize("size", [(1280, 800), (1024, 600), (800, 1280)])
def test_the_way_to_record_is_seen_without_scrolling_in_german(tablet, size):
    driver = at(tablet, "remove-fasteners", size, language="de")
    driver.look(f"step-{size[0]}")
    driver.touch("count rim-fasteners")
    driver.touch("minus")
    driver.look(f"count-{size[0]}")
    for plate in (p for p in driver.root.plates() if p.action in ("record", "minus", "plus", "missing")):
        left, low = plate.to_window(plate.x, plate.y)
        assert left >= 0 and left + plate.width <= size[0], plate.action
        assert low >= 0 and low + plate.height <= size[1], plate.action
    driver.touch("back")
    driver.touch("main")
    driver.touch("lookback")
    driver.touch("ledger")
    driver.look(f"ledger-{size[0]}")
