"""Sample sessions from the start screen to the sealed package, by touches alone.

The stopped one is played in test_touched_twice.py by a finger that bounces, the one with power
cuts in test_power_loss.py.
"""

from __future__ import annotations

import pytest

from evidence_app.job.running.guide import Job
from evidence_app.locations import sample
from evidence_app.package.verify.check import verify
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.microphone import speech
from evidence_app.practice.session import load_session
from evidence_app.practice.technician import PracticeTechnician
from tests.tablet import rendered
from tests.tablet.content import essence, recalled

_SMALL = (1024, 600)


_REVIEWED = {
    "completed": ("finding: clear", "Held for 3 min 5 s, at least 3 min, at most 15 min"),
    "retaken-and-gauged": (
        "Voltage across the supply pads: 0.03 V (at most 0.1 V)",
        "Kept with the reason: The extraction lamp cannot be dimmed",
        "The seam is 0.185 mm wide",
    ),
}


@pytest.mark.parametrize("name", ["completed", "retaken-and-gauged"])
def test_a_session_played_by_touch_says_what_the_command_line_says(tablet, tmp_path, name):
    session = load_session(sample(f"{name}.session.toml"))
    driver = tablet(size=_SMALL, clock=PracticeClock(session.begins))
    driver.begin(name)
    driver.play(session)
    reviewed = driver.texts()
    assert [each for each in _REVIEWED[name] if each not in reviewed] == []
    package = driver.seal()
    assert essence(driver.job.record.events) == by_command_line(
        session, tmp_path / "other", driver.job.record
    )
    result = verify(package, accept_practice=True)
    assert not result.failed, result.failed


def by_command_line(session, folder, record):
    """The demo's own technician, before whose eyes are the photos that the app took."""
    eyes = recalled(record.events, record.path_of)
    clock = PracticeClock(session.begins)
    with Job.open(
        folder,
        sample(session.step_list).read_bytes(),
        session.variant,
        session.serial,
        session.claim,
        session.technician,
        True,
        clock,
        rendered.measure,
    ) as job:
        PracticeTechnician(session, job, clock, eyes, speech, lambda *_, **__: None).work()
        return essence(job.record.events)
