"""A screen of our own for the window: Xvfb, found and started once for all tests here."""

from __future__ import annotations

import os
import shutil
import subprocess

import pytest

from evidence_app.tablet.setup import prepare

# Before anything can open the mixer: it is opened once a process, and one that failed stays shut.
os.environ.setdefault("SDL_AUDIODRIVER", "dummy")
# Before any module here loads the screens' library, in whatever order they are asked for.
prepare((1280, 800))


@pytest.fixture(scope="session")
def display():
    """The name of an X display that nobody else draws on."""
    program = shutil.which("Xvfb")
    assert program, "Xvfb is missing: run `sh .ci/setup test`"
    reading, writing = os.pipe()
    server = subprocess.Popen(
        [program, "-displayfd", str(writing), "-screen", "0", "2560x1600x24", "-nolisten", "tcp"],
        pass_fds=(writing,),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(writing)
    with os.fdopen(reading) as pipe:
        number = pipe.readline().strip()
    assert number, "Xvfb did not start"
    os.environ["DISPLAY"] = f":{number}"
    yield os.environ["DISPLAY"]
    server.terminate()
    server.wait()


@pytest.fixture(scope="session")
def nursery(display):
    """Of runs of the app before that display."""
    from tests.nursery import Nursery

    made = Nursery("tests.tablet.before_window")
    yield made
    made.end()


@pytest.fixture(scope="session")
def engine(engine):
    """The tablet's, with the recogniser of all tests."""
    from evidence_app.tablet.ear.engine import Engine

    made = Engine()
    made._recogniser = engine
    return made


@pytest.fixture(autouse=True)
def unhurried(monkeypatch):
    """What can be taken back is offered as long as a busy machine needs to touch it; that the offer
    ends is awaited in test_photo_pane.py, whose screen is made before this."""
    for offered in ("workplace", "ear.by_voice"):
        monkeypatch.setattr(f"evidence_app.tablet.{offered}.TAKE_BACK_S", 600.0)


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("EVIDENCE_APP_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def tablet(display, home):
    """Starts the app, as often as asked; each is ended after the test."""
    from tests.tablet.driver import Driver

    started = []

    def start(**given):
        shots = os.environ.get("EVIDENCE_APP_SCREENSHOTS")
        if shots:
            from pathlib import Path

            given.setdefault(
                "shots",
                Path(shots)
                / os.environ["PYTEST_CURRENT_TEST"].split("::")[-1].split(" ")[0].replace("/", "_"),
            )
        started.append(Driver(**given))
        return started[-1]

    yield start
    for driver in started:
        driver.end()
