"""What the app reads aloud does not come into a note; through a real sound server."""

from __future__ import annotations

from evidence_app.locations import sample
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
