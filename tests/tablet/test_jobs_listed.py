"""The list of jobs says when each was begun, how it stands, and the code of a sealed one."""

from __future__ import annotations

import os
import subprocess
import sys
import time

import pytest

from evidence_app.errors import EvidenceError
from evidence_app.sentence import sentence
from evidence_app.tablet.presenting.problem import problem_words


def _start_again(tablet):
    driver = tablet(size=(1024, 600), technician="")
    driver.until(lambda: any(a.startswith("job ") for a in driver.actions()), "the job")
    return driver


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
    driver.touch("stop")
    driver.touch("abandon")
    driver.type("The lamp failed.")
    driver.touch("record")
    driver.seal()
    code = driver.place.sealed.fingerprint
    driver.touch("done")
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
