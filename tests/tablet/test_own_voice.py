"""The tablet before a real sound server: what it reads aloud and what it plays."""

from __future__ import annotations

import os
import subprocess
import sys

from evidence_app.locations import asset, sample
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import load_session
from tests.devices.conftest import sound_server  # noqa: F401  a fixture
from tests.tablet.talking import at_work, need_engine


def test_a_note_begun_by_touch_silences_what_is_read_aloud(tablet, sound_server):  # noqa: F811
    need_engine()
    session = load_session(sample("power-loss.session.toml"))
    clock = PracticeClock(session.begins)
    driver = tablet(clock=clock, microphone="bench:", spoken="all")
    driver.place.resume(at_work(session, clock), driver.root.home)
    driver.until(lambda: driver.job is not None, "the job")
    speaking = driver.place.speaking
    speaking.answer("A sentence that nobody would wait for. " * 20)
    driver.pass_time(0.5)
    assert speaking.going
    driver.root.go("note")
    driver.settle()
    driver.touch("start-note")
    driver.pass_time(0.5)
    assert not speaking.going


_PLAYS = """
import sys
from tests.tablet.driver import Driver
from evidence_app.tablet.ear.playing import Playing
driver = Driver()
Playing(lambda on: print("own sound", on), lambda: None).play("of", sys.argv[1])
print("goes on")
"""


def test_a_sound_is_played_beside_the_window(display, home, sound_server):  # noqa: F811
    own = {name: value for name, value in os.environ.items() if name != "SDL_AUDIODRIVER"}
    done = subprocess.run(
        [sys.executable, "-c", _PLAYS, str(asset("sounds/hold-over.wav"))],
        env=own,
        capture_output=True,
        text=True,
    )
    assert done.stdout.split("\n")[-3:-1] == ["own sound True", "goes on"], done.stderr[-500:]
