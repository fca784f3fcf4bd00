"""The unit on the bench is the job's unit: its number in view, compared, asked about."""

from __future__ import annotations

import pytest
import segno
from PIL import Image

from evidence_app.errors import Refused
from evidence_app.job import commands as c
from evidence_app.tablet.presenting.working.reading import side_by_side

SERIAL, CLAIM = "H7-204-11873", "NID-2026-0317"
OTHER = "H7-204-11837"


@pytest.fixture
def at_step(tablet):
    driver = tablet(size=(1024, 600))
    driver.at_first_step()
    return driver


def read(driver, number: str) -> None:
    driver.touch("main")
    driver.type(number)
    driver.touch("record")


def test_serial_and_claim_are_in_view_on_every_screen_of_a_job(at_step):
    assert "take-back" in at_step.actions()  # the offer does not cover them
    for screen in ("step", "camera", "note", "lookback", "finish", "settings"):
        at_step.root.go(screen)
        at_step.settle()
        assert SERIAL in at_step.root.unit.text, screen
        assert CLAIM in at_step.root.unit.text, screen
        assert at_step.root.unit.height > 10, screen


@pytest.mark.parametrize("number", [SERIAL, OTHER])
def test_the_number_of_the_unit_is_read_from_a_code_in_a_job(tablet, tmp_path, number):
    code, photo = tmp_path / "code.png", tmp_path / "plate.jpg"
    segno.make(number, error="m").save(code, scale=12, border=8)
    Image.open(code).convert("RGB").save(photo, quality=90)
    driver = tablet(size=(1024, 600), camera=f"file:{photo}")
    driver.at_first_step()
    driver.touch("main")
    driver.touch("scan")
    driver.until(lambda: driver.screen != "scan", "the code to be read")
    driver.settle()
    assert driver.root.screen._value == number
    driver.touch("record")
    entered = [e.body for e in driver.job.record.events if e.kind == "reading-entered"]
    if number == SERIAL:
        assert [(e["value"], e["entered_by"]) for e in entered] == [(SERIAL, "scanned")]
    else:
        assert not entered
        assert "another unit" in driver.texts()


def test_letters_of_a_number_on_a_plate_stay_capitals(at_step):
    at_step.touch("main")
    at_step.type("H")
    shown = at_step.texts().split("\n")
    assert "Q" in shown and "q" not in shown


def test_another_units_number_is_shown_beside_the_jobs_and_not_recorded(at_step):
    read(at_step, OTHER)
    assert not at_step.job.state.readings
    assert "another unit" in at_step.texts()
    assert at_step.texts().split("\n").count("≠") == 2
    at_step.touch("again")
    at_step.type(SERIAL)
    at_step.touch("record")
    assert at_step.job.state.readings[-1].value == SERIAL


def test_another_units_number_is_recorded_after_its_reason(at_step):
    read(at_step, OTHER)
    at_step.touch("outside")
    assert not at_step.job.state.readings
    at_step.type("The plate was exchanged at the last repair.")
    at_step.touch("record")
    kinds = [e.kind for e in at_step.job.record.events]
    assert kinds[-2:] == ["note-written", "reading-entered"]
    assert "exchanged" in at_step.job.state.notes[-1].text


def test_another_units_number_is_refused_to_voice_and_command_line_too(at_step):
    with pytest.raises(Refused, match="not the serial number of this job"):
        at_step.job.do(c.EnterReading("serial-number", OTHER, "spoken"))
    at_step.job.do(c.EnterReading("serial-number", " h7-204-11873 ", "spoken"))


@pytest.mark.parametrize(
    ("one", "other", "differ"),
    [
        ("H7-204-11873", "H7-204-11873", ""),
        ("H7-204-11873", "h7-204-1187", "3"),
        ("H7-204-11873", "H7-204-11878", "3"),
        ("AB", "", "AB"),
    ],
)
def test_signs_that_differ_are_found(one, other, differ):
    pairs = side_by_side(one, other)
    assert "".join(a for a, _, _ in pairs) == one
    assert "".join(b for _, b, _ in pairs) == other
    assert "".join(a for a, _, different in pairs if different) == differ


def test_a_second_job_of_the_same_claim_and_serial_asks_first(at_step, home):
    at_step.touch("stop")
    at_step.touch("leave")
    at_step.until(lambda: at_step.job is None, "the job put down")
    at_step.settle()
    for action in ("new", "unit", "unit completed", "open"):
        at_step.touch(action)
    assert at_step.job is None
    assert "already" in at_step.texts()
    at_step.touch("same 1")
    at_step.until(lambda: at_step.job is not None, "the job")
    assert len(list((home / "jobs").iterdir())) == 1
