"""The app is killed at each screen; started again, the job stands where it stood."""

from __future__ import annotations

import signal
from itertools import pairwise

import pytest

from evidence_app.job.running.opening import peek
from evidence_app.package.verify.check import verify

SERIAL = "H7-198-77777"
_CHAIN = ("prepare", "step", "entry", "camera", "photo", "finding", "note", "hold", "stop")


@pytest.fixture
def killed_at(display, home, nursery):
    def run(target: str) -> list[str]:
        """What the app said of itself when it was there; then it was killed."""
        app, told = nursery.begin("tests.tablet.child", target, SERIAL), ""
        for line in app:
            if line.startswith("READY"):
                told = line.strip()
                app.kill()
        assert app.ended == -signal.SIGKILL
        return told.split("|")

    return run


def test_killed_at_each_screen_the_job_goes_on_where_it_stood(killed_at, home):
    reached = {}
    for target in _CHAIN:
        _, before, after = killed_at(target)
        reached[target] = (before.split(), after.split())
    for earlier, later in pairwise(_CHAIN):
        stood, found = reached[earlier][1], reached[later][0]
        assert found[1] == stood[1], f"after {earlier}: {reached}"
        # Nothing recorded is lost; taking up adds its own entries.
        assert int(found[2]) >= int(stood[2])
    _, state = peek(next((home / "jobs").iterdir()))
    assert state.phase == "stopped"
    # The note that was cut short is kept, and was said again.
    assert [n.cut_short for n in state.notes if n.heard == "recorded"] == [True, False]


def test_killed_while_a_new_job_is_filled_in_what_was_filled_in_is_kept(killed_at, tablet):
    killed_at("newjob")
    driver = tablet()
    driver.touch("new")
    assert SERIAL in driver.texts()


def test_killed_at_the_finish_and_while_sealing_the_package_is_sealed_whole(killed_at, tablet):
    killed_at("finish")
    killed_at("sealing")
    driver = tablet()
    driver.touch(next(a for a in driver.actions() if a.startswith("job ")))
    driver.until(lambda: driver.job is not None, "the job")
    driver.settle()
    package = driver.seal()
    assert verify(package, accept_practice=True).exit_status == 0
