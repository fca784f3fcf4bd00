"""The tablet before a real sound server: what it reads aloud and what it plays."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
import soundfile

from evidence_app.devices.microphone import RATE
from evidence_app.locations import asset, sample
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import load_session
from evidence_app.voice.interrupting.canceller import library
from tests.devices.conftest import sound_server  # noqa: F401  a fixture
from tests.tablet.talking import VOICES, Mouth, Talk, at_work, need_engine, spoken


def test_a_note_begun_by_touch_silences_what_is_read_aloud(tablet, sound_server):  # noqa: F811
    need_engine()
    session = load_session(sample("power-loss.session.toml"))
    clock = PracticeClock(session.begins)
    driver = tablet(clock=clock, microphone="bench:", spoken="all")
    driver.place.resume(at_work(session, clock), driver.root.home)
    driver.until(lambda: driver.job is not None, "the job")
    speaking = driver.place.speaking
    # Read to its end it takes longer than the time limit of a test.
    speaking.answer("A sentence that nobody would wait for. " * 400)
    driver.until(lambda: speaking.going, "the voice")
    driver.root.go("note")
    driver.settle()
    driver.touch("start-note")
    driver.until(lambda: not speaking.going, "silence")


_RULES = "The rules of the depot are long and each of them is read to its end. "


@pytest.mark.parametrize(
    ("said", "next_spoken"),
    [("stop the repair", "To stop the repair, say: yes, stop the repair."), ("wait a moment", None)],
)
def test_who_speaks_between_two_sentences_is_not_told_the_rest(
    tablet, tmp_path, monkeypatch, said, next_spoken
):
    need_engine()
    monkeypatch.setattr("evidence_app.voice.prompts.GAP_S", 3.0)  # for a busy machine
    (tmp_path / "bin").mkdir()
    program, told = tmp_path / "bin" / "espeak-ng", tmp_path / "told"
    program.write_text(f'#!/bin/sh\nread -r line\necho "$line" >> {told}\nsleep 0.3\n')
    program.chmod(0o755)
    stop = [spoken(said, tmp_path, voice) for voice in VOICES]
    session = load_session(sample("power-loss.session.toml"))
    clock = PracticeClock(session.begins)
    driver = tablet(clock=clock, microphone="bench:", listening=True, spoken="answers")
    driver.place.resume(at_work(session, clock), driver.root.home)
    driver.until(lambda: driver.job is not None, "the job")
    talk = Talk(driver, tmp_path)
    monkeypatch.setenv("PATH", f"{program.parent}{os.pathsep}{os.environ['PATH']}")
    driver.place.speaking.answer(_RULES * 6)

    def understood() -> list[str]:
        return [a.action for a in talk.answers if a.kind in ("do", "ask")]

    for sound in stop:
        for sign in ("speaking", "listening"):
            driver.until(lambda s=sign: understood() or talk.hearing.listener.sign == s, sign)
        if understood():
            break
        Mouth.here.say(sound)
        driver.until(lambda: understood() or talk._heard_out(), "an answer")
    driver.until(understood, "an answer")
    assert understood() == ["stop-repair" if next_spoken else "wait"]
    driver.until(lambda: not driver.place.speaking.going, "silence")
    spoken_lines = told.read_text().splitlines()
    rules = [line for line in spoken_lines if line == _RULES.strip()]
    assert len(rules) < 6
    # The question may lapse on a busy machine, and that is told after it.
    assert spoken_lines[len(rules) :][:1] == ([next_spoken] if next_spoken else [])


_NO_GAP = "the rules of the depot are long, and each of them is read to its very end, " * 60


def test_a_stop_said_into_what_is_read_aloud_is_asked_about(tablet, tmp_path, sound_server):  # noqa: F811
    need_engine()
    if library() is None:
        pytest.skip("libspeexdsp1 is not installed")
    session = load_session(sample("power-loss.session.toml"))
    clock = PracticeClock(session.begins)
    driver = tablet(clock=clock, microphone="microphone", listening=True, spoken="answers")
    driver.place.resume(at_work(session, clock), driver.root.home)
    driver.until(lambda: driver.place.hearing.state() == "listening", "listening")
    hearing, speaking = driver.place.hearing, driver.place.speaking
    speaking.answer(_NO_GAP)
    for voice in VOICES * 2:
        driver.until(lambda: hearing.state() == "interruptible", "an ear that knows its own voice")
        driver.settle()
        assert "Speaking; hears a stop" in driver.texts()
        path = tmp_path / "said.wav"
        soundfile.write(path, spoken("stop the repair", tmp_path, voice), RATE)
        saying = sound_server._begin("paplay", str(path))
        driver.until(lambda s=saying: hearing.card or s.poll() is not None, "what was said")
        driver.until(lambda: hearing.card or not hearing.hears(), "an answer")
        if hearing.card:
            break
    driver.settle()
    assert "Stop the repair? Say “yes, stop the repair”, or touch." in driver.texts()
    assert driver.job.state.phase != "stopped"
    driver.until(lambda: not speaking.going, "the question")


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
