"""The session with two power cuts and a clock set back, played by touch; the process is
killed at each cut, in the tablet and in the command line's play alike."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest

from evidence_app.locations import sample
from evidence_app.package.verify.check import verify
from evidence_app.practice.session import load_session
from evidence_app.practice.technician import session_folder
from tests.once import once
from tests.tablet import rendered
from tests.tablet.content import essence
from tests.tablet.powered import events_of, take_up

NAME = "power-loss"
SESSION = load_session(sample(f"{NAME}.session.toml"))


def runs(nursery, *arguments) -> list[int]:
    """How each process ended, until one came to the session's end."""
    ended = []
    while 0 not in ended and len(ended) < 4:
        run = nursery.begin("tests.tablet.powered", *arguments)
        said = list(run)
        assert run.ended in (0, -signal.SIGKILL), said
        ended.append(run.ended)
        if arguments[0] == "tablet" and len(ended) == SESSION.expected.restarts:
            break
    return ended


@pytest.fixture(scope="module")
def played(nursery, tmp_path_factory, worker_id):
    """The job's folder, its package, and which notices were shown in the last run."""
    with pytest.MonkeyPatch.context() as patch:

        def play(folder: Path) -> tuple[Path, Path, Path, set[str]]:
            at_home(patch, folder)
            assert runs(nursery, "tablet", NAME) == [-signal.SIGKILL] * 2
            return folder, *taken_up()

        folder, *made = once(tmp_path_factory, worker_id, "cut", play)
        at_home(patch, folder)
        yield made


def at_home(patch, folder: Path) -> None:
    patch.setenv("EVIDENCE_APP_HOME", str(folder / "home"))
    (folder / "measured").mkdir(exist_ok=True)
    patch.setenv(rendered.MEASURED_IN, str(folder / "measured"))


def taken_up() -> tuple[Path, Path, set[str]]:
    from tests.tablet.driver import Driver

    told: set[str] = set()
    driver = take_up(SESSION, NAME, Driver)
    driver.play(SESSION, lambda d: told.update(d.place.notices) or False)
    package = driver.seal()
    job = driver.job.record.folder
    driver.end()
    return job, package, told


def test_it_says_what_the_command_line_says(played, nursery, tmp_path):
    job, _, _ = played
    assert runs(nursery, "command-line", NAME, tmp_path, job) == [-signal.SIGKILL] * 2 + [0]
    other = events_of(session_folder(tmp_path, SESSION))
    assert essence(events_of(job)) == essence(other)


def test_the_clock_that_was_set_back_and_the_lost_hold_are_told(played):
    assert {"clock", "hold"} <= played[2]


def test_its_package_verifies(played):
    assert not verify(played[1], accept_practice=True).failed
