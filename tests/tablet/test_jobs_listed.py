"""The list of jobs says when each was begun, how it stands, and the code of a sealed one."""

from __future__ import annotations

import os
import subprocess
import sys
import time

import pytest
from msgspec.structs import replace

from evidence_app.errors import EvidenceError
from evidence_app.sentence import sentence
from evidence_app.tablet.presenting.problem import problem_words


def _start_again(tablet):
    driver = tablet(size=(1024, 600), technician="")
    driver.until(lambda: any(a.startswith("job ") for a in driver.actions()), "the job")
    return driver


def _abandoned_and_sealed(driver) -> str:
    """From a step back to the start screen; the code of the sealed job."""
    driver.touch("stop")
    driver.touch("abandon")
    driver.type("The lamp failed.")
    driver.touch("record")
    driver.seal()
    code = driver.place.sealed.fingerprint
    driver.touch("done")
    return code


def test_an_open_job_shows_its_day_and_its_step_and_the_name_is_remembered(tablet):
    driver = tablet(size=(1024, 600))
    driver.at_first_step()
    name, day = driver.job.state.opened.technician, driver.job.record.events[0].wall[:10]
    driver.app.on_stop()
    again = _start_again(tablet)
    assert f"{day}  ·  " in again.texts()
    assert "Step 1 of 29" in again.texts()
    from evidence_app.tablet.settings import load_settings

    assert load_settings()[0].technician == name


def test_a_sealed_job_shows_its_code_and_is_not_to_be_sealed_again(tablet):
    driver = tablet(size=(1024, 600))
    driver.at_first_step()
    code = _abandoned_and_sealed(driver)
    driver.until(lambda: any(a.startswith("job ") for a in driver.actions()), "the job")
    assert f"Sealed: {code}." in driver.texts()
    driver.touch(next(a for a in driver.actions() if a.startswith("job ")))
    driver.settle()
    assert driver.screen == "finish"
    assert "seal" not in driver.actions()
    assert code in driver.texts()
    assert "Seal it now" not in driver.texts()


@pytest.mark.parametrize("where", ["/home/somebody/keys/device-key.pem", r"C:\keys\device-key.pem"])
def test_a_technician_reads_a_files_name_and_no_path(where):
    told = problem_words(EvidenceError(sentence("the key cannot be read"), where=where))
    assert told == "The key cannot be read. (device-key.pem)"


def test_nothing_is_said_on_standard_error_at_start(display, home, tmp_path):
    shots = tmp_path / "shots"
    app = subprocess.Popen(
        [sys.executable, "-m", "evidence_app.cli", "tablet", "--practice", "--screenshots", str(shots)],
        env={**os.environ, "EVIDENCE_APP_HOME": str(home)},
        stderr=subprocess.PIPE,
    )
    while not list(shots.glob("*-start.png")) and app.poll() is None:
        time.sleep(0.1)
    app.kill()
    assert app.communicate()[1] == b""
    assert list(shots.glob("*-start.png"))


# --- finding a job ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def three_jobs(display, tmp_path_factory):
    """The app with three jobs: two units, three technicians, two step lists."""
    from tests.tablet.driver import Driver

    home = tmp_path_factory.mktemp("jobs") / "home"
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("EVIDENCE_APP_HOME", str(home))
        driver, names = Driver(size=(1024, 600)), iter(("Ilve Odalys", "Brunhild Odalys"))
        for name in ("completed", "stopped-at-residue", "completed"):
            driver.touch("new")
            driver.touch("unit")
            driver.touch(f"unit {name}")
            if name == "completed":
                driver.place.new_job = replace(driver.place.new_job, technician=next(names))
            driver.touch("open")
            if "open-twice" in driver.actions():
                driver.touch("open-twice")
            driver.until(lambda: driver.job is not None, "the job")
            driver.settle()
            driver.touch("leave")
        yield driver
        driver.end()


def listed(driver) -> int:
    driver.settle()
    return sum(action.startswith("job ") for action in driver.actions())


@pytest.mark.parametrize(
    ("words", "count"),
    [
        ("h7-204", 2),
        ("NID-2026-0342", 1),
        ("nid", 3),
        ("cellular window", 1),
        ("brunhild", 1),
        ("odalys h7-204", 2),
        ("odalys cellular", 0),
        ("safe on disk", 0),
    ],
)
def test_a_job_is_found_by_what_is_typed_on_the_keyboard(three_jobs, words, count):
    three_jobs.root.go("start")
    assert listed(three_jobs) == 3
    three_jobs.type(words)
    assert listed(three_jobs) == count
    assert f"Jobs with “{words}”: {count}" in three_jobs.texts()
    three_jobs.touch("show-all")
    assert listed(three_jobs) == 3


def test_a_job_is_found_by_touch_and_what_was_sought_can_be_changed(three_jobs):
    three_jobs.root.go("start")
    three_jobs.settle()
    three_jobs.touch("find")
    for key in "342":
        three_jobs.type(key)
    three_jobs.touch("record")
    assert listed(three_jobs) == 1
    three_jobs.touch("find")
    assert three_jobs.root.screen._value == "342"
    three_jobs.touch("back")
    assert listed(three_jobs) == 1
    three_jobs.tap_key(8)
    assert "Jobs with “34”" in three_jobs.texts()


def test_a_job_older_than_those_listed_is_found(tablet, home, monkeypatch):
    from evidence_app.tablet.presenting.opening import start
    from evidence_app.tablet.screens.opening import start as screen

    monkeypatch.setattr(screen, "MOST_JOBS", 1)
    assert start.MOST_JOBS == 50
    driver = tablet(size=(1024, 600))
    for name in ("stopped-at-residue", "completed"):
        driver.begin(name)
        driver.touch("leave")
    assert listed(driver) == 1
    driver.type("0342")
    assert listed(driver) == 1
    assert "NID-2026-0342" in driver.texts()


# --- copies ---------------------------------------------------------------------------------


def test_a_sealed_job_shows_when_it_was_copied(tablet, tmp_path, monkeypatch):
    from evidence_app.practice.clock import PracticeClock
    from evidence_app.tablet import sealing

    disk = tmp_path / "disk"
    disk.mkdir()
    monkeypatch.setattr(sealing, "removable_disks", lambda *_: (disk,))
    driver = tablet(size=(1024, 600), clock=PracticeClock("2026-03-02T08:00:00.000+01:00"))
    driver.at_first_step()
    code = _abandoned_and_sealed(driver)
    row = next(a for a in driver.actions() if a.startswith("job "))
    assert f"Sealed: {code}." in driver.texts()
    assert "Copied" not in driver.texts()
    driver.touch(row)
    driver.until(lambda: "copy 1" in driver.actions(), "the disk")
    driver.clock.set_wall("2026-03-02T08:30:12.000+01:00")
    driver.touch("copy 1")
    driver.until(lambda: list(disk.glob("*.zip")) and driver.root.screen._told, "the copy")
    driver.settle()
    driver.touch("done")
    assert f"Sealed: {code}. Copied 2026-03-02 08:30." in driver.texts()
    driver.touch(row)
    assert "Copied 2026-03-02 08:30." in driver.texts().split("\n")


def test_a_line_of_copies_that_was_cut_takes_no_other_with_it(home):
    from evidence_app.tablet.copies import copied_when, copies_path, note_copy

    home.mkdir()
    note_copy("AAAA", "2026-03-02T08:30:12.000+01:00")
    with copies_path().open("ab") as file:
        file.write(b'\n{"package":"BB')
    note_copy("CCCC", "2026-03-03T09:00:00.000+01:00")
    note_copy("AAAA", "2026-03-04T10:00:00.000+01:00")
    assert copied_when() == {"AAAA": "2026-03-04 10:00", "CCCC": "2026-03-03 09:00"}
