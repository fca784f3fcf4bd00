"""Reading aloud; a program that stands for espeak-ng where no sound can be played."""

from __future__ import annotations

import threading
import time

import numpy as np
import pytest
import soundfile

from evidence_app.voice.interrupting.loudspeaker import Loudspeaker
from evidence_app.voice.prompts import Prompter


@pytest.fixture
def program(tmp_path):
    """Takes a text like espeak-ng, writes down what it was asked, speaks while there is a
    file ``long-winded``."""
    path, said = tmp_path / "speak", tmp_path / "said"
    path.write_text(
        f'#!/bin/sh\necho "$@" >> {said}\ncat >> {said}\n'
        f"while [ -e {tmp_path}/long-winded ]; do sleep 0.05; done\n"
    )
    path.chmod(0o755)
    return path


def said_by(program) -> str:
    return (program.parent / "said").read_text()


class Told:
    def __init__(self, program, loudspeaker=None, **options) -> None:
        self.speaking: list[bool] = []
        self.problems: list = []
        self.prompter = Prompter(
            self.speaking.append, self.problems.append, program=str(program), **options
        )
        self.prompter.loudspeaker = loudspeaker

    def say_and_wait(self, text: str) -> None:
        said = threading.Event()
        self.prompter.say(text, said.set)
        said.wait()


@pytest.fixture
def told(program):
    told = Told(program)
    yield told
    told.prompter.close()


def test_a_text_is_spoken_as_it_stands(told, program):
    told.say_and_wait("-v is a dash, not an option")
    assert said_by(program).endswith("-v is a dash, not an option")


def test_the_ears_are_open_between_two_sentences(told, program):
    told.say_and_wait(
        "The first sentence is long enough to stand alone. So is the second one, at its length."
    )
    assert told.speaking == [True, False, True, False]
    assert "stand alone." in said_by(program)


def test_it_begins_only_when_nobody_speaks(program):
    silent_before = []

    def somebody_speaks() -> bool:
        silent_before.append(not (program.parent / "said").exists())
        return len(silent_before) < 4

    told = Told(program, heard=somebody_speaks)
    told.say_and_wait("hello")
    told.prompter.close()
    assert silent_before[:4] == [True] * 4
    assert "hello" in said_by(program)


def test_speed_and_volume_are_passed_on_within_their_range(told, program):
    told.prompter.speed, told.prompter.volume = 1000, -5
    told.say_and_wait("hello")
    assert "-s 260 -a 0" in said_by(program)


def test_the_listener_is_told_before_and_after(told):
    told.say_and_wait("hello")
    assert told.speaking == [True, False]


def test_saying_gives_back_while_it_is_spoken(told, program):
    goes_on = program.with_name("long-winded")
    goes_on.touch()
    ended = threading.Event()
    told.prompter.say("hello", ended.set)
    assert not ended.is_set()
    goes_on.unlink()
    assert ended.wait()


def test_texts_are_spoken_one_after_the_other(told, program):
    told.prompter.say("first ")
    told.say_and_wait("second")
    assert said_by(program).index("first") < said_by(program).index("second")
    assert told.speaking == [True, False, True, False]


def test_hush_ends_what_is_said_and_what_waits(told, program):
    ended, goes_on = threading.Event(), program.with_name("long-winded")
    goes_on.touch()
    told.prompter.say("first")
    told.prompter.say("second", ended.set)
    while not (program.with_name("said").exists() and "first" in said_by(program)):
        time.sleep(0.01)
    told.prompter.hush()
    assert ended.wait()
    goes_on.unlink()
    told.say_and_wait("third")
    assert "second" not in said_by(program)
    assert not told.problems


def test_a_missing_program_is_told_once_and_the_app_goes_on(tmp_path):
    told = Told(tmp_path / "none")
    told.say_and_wait("one")
    told.say_and_wait("two")
    assert len(told.problems) == 1
    assert "not installed" in told.problems[0].sentence()
    assert told.speaking == []


def test_a_program_that_fails_is_told_once(tmp_path):
    path = tmp_path / "speak"
    path.write_text("#!/bin/sh\nexit 3\n")
    path.chmod(0o755)
    told = Told(path)
    told.say_and_wait("one")
    told.say_and_wait("two")
    assert len(told.problems) == 1
    assert told.speaking == [True, False]


class Room:
    """Takes what a loudspeaker plays, as a stream does, until it is left."""

    def __init__(self) -> None:
        self.loudspeaker = Loudspeaker()
        self.loudspeaker.open = True
        self.heard: list[np.ndarray] = []
        self._left = threading.Event()
        self._thread = threading.Thread(target=self._take)
        self._thread.start()

    def _take(self) -> None:
        while not self._left.is_set():
            self.heard.append(self.loudspeaker.pull(1600))
            time.sleep(0.001)

    def leave(self) -> np.ndarray:
        self._left.set()
        self._thread.join()
        return np.concatenate(self.heard)


@pytest.fixture
def recorded(program):
    """The program gives sound instead of playing it: three seconds of a tone."""
    tone = (8000 * np.sin(np.arange(3 * 22_050) * 0.1)).astype(np.int16)
    soundfile.write(program.with_name("tone.wav"), tone, 22_050)
    program.write_text(program.read_text() + f"cat {program.parent}/tone.wav\n")
    return program


def test_what_is_said_is_played_through_the_loudspeaker(recorded):
    room = Room()
    told = Told(recorded, loudspeaker=room.loudspeaker)
    told.say_and_wait("hello")
    told.prompter.close()
    heard = room.leave()
    assert "--stdout" in said_by(recorded)
    assert np.count_nonzero(heard) == pytest.approx(3 * 16_000, rel=0.01)


def test_while_a_person_speaks_it_is_silent_and_then_goes_on(recorded, monkeypatch):
    monkeypatch.setattr("evidence_app.voice.prompts.GAP_S", 0.0)
    room, speaks = Room(), threading.Event()
    speaks.set()
    told = Told(recorded, loudspeaker=room.loudspeaker, heard=lambda: begun.is_set() and speaks.is_set())
    begun, ended = threading.Event(), threading.Event()
    told.prompter.say("hello", ended.set)
    while not room.loudspeaker.busy:
        time.sleep(0.001)
    begun.set()
    room.loudspeaker.paused = True
    first = len(room.heard) + 1  # one block may have been on its way
    while len(room.heard) < first + 100:
        time.sleep(0.001)
    assert room.loudspeaker.busy
    assert not np.concatenate(room.heard[first:]).any()
    speaks.clear()
    assert ended.wait()
    told.prompter.close()
    assert np.count_nonzero(room.leave()) == pytest.approx(3 * 16_000, rel=0.01)


def speaking(recorded) -> tuple[Room, Told, threading.Event]:
    """A text that is being played and paused, so that it cannot come to its end by itself."""
    room, ended = Room(), threading.Event()
    told = Told(recorded, loudspeaker=room.loudspeaker)
    told.prompter.say("hello", ended.set)
    while not room.loudspeaker.busy:
        time.sleep(0.001)
    room.loudspeaker.paused = True
    return room, told, ended


def test_hush_silences_the_loudspeaker(recorded):
    room, told, ended = speaking(recorded)
    told.prompter.hush()
    assert ended.wait()
    assert not room.loudspeaker.busy
    told.prompter.close()
    room.leave()


def test_a_loudspeaker_that_goes_away_ends_what_is_said(recorded):
    room, told, ended = speaking(recorded)
    room.loudspeaker.open = False
    assert ended.wait()
    told.prompter.close()
    room.leave()
