"""Times: what was recorded is shown, what was hidden fails (the attacks show that)."""

from __future__ import annotations

import pytest

from evidence_app.package.verify.check import verify
from evidence_app.package.verify.result import HOLDS
from tests.hostile.bag import Bag
from tests.hostile.on_job import shift, the


@pytest.fixture
def rewritten(sound, tmp_path):
    """Change the sound package's events and seal them anew; the clocks' check of the result."""

    def run(change):
        path = tmp_path / "rewritten.zip"
        path.write_bytes(Bag.read(sound.path).rewrite(change).own().zip())
        return verify(path, sound.key_list).check("clocks")

    return run


def before_reading(events, kind, body):
    """Put an event of the clock in front of the reading, at the reading's own time."""
    reading = the(events, "reading-entered")
    told = {"kind": kind, "actor": "clock", "body": body}
    events.insert(events.index(reading), reading | told)


def test_recorded_step_of_the_wall_clock_is_shown(rewritten):
    def change(events):
        shift(events, the(events, "reading-entered"), -3600, mono=False)
        before_reading(events, "clock-stepped", {"by_s": -3600, "earlier": True})

    check = rewritten(change)
    assert check.outcome == HOLDS
    assert "set by -3600 s, to a time earlier" in str(check.items[0])


def test_recorded_restart_is_shown(rewritten):
    def change(events):
        reading = the(events, "reading-entered")
        previous = reading["boot"]
        for event in events[events.index(reading) :]:
            event["boot"] = "second-run"
        before_reading(events, "machine-restarted", {"previous_boot": previous})

    check = rewritten(change)
    assert check.outcome == HOLDS
    assert "the tablet was restarted" in str(check.items[0])


def test_other_cameras_clock_is_shown_when_it_is_far_off(rewritten):
    check = rewritten(lambda events: shift(events, events[0], 3 * 86_400))
    assert check.outcome == HOLDS
    assert "its camera's own clock says 2026-03-02" in str(check.items[0])


def test_photo_of_the_apps_own_camera_agrees_with_its_event(rewritten):
    def change(events):
        the(events, "photo-taken")["body"]["source"] = {"kind": "camera", "name": "camera:0"}

    check = rewritten(change)
    assert check.outcome == HOLDS
    assert check.items == ()
