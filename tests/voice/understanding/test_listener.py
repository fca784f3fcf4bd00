"""The listener from sound to answer, with the real engine and generated speech."""

from __future__ import annotations

import queue
import time

import numpy as np
import pytest

from evidence_app.devices.microphone import BLOCK, RATE
from evidence_app.errors import VoiceError
from evidence_app.sentence import sentence
from evidence_app.voice.understanding.endpoint import Utterance
from evidence_app.voice.understanding.grammar import Allowed, AskedReading
from evidence_app.voice.understanding.listener import AFTER_SPEAKING_S, Listener
from evidence_app.voice.understanding.words import ENGLISH

HERE = Allowed("step", frozenset(ENGLISH.phrases), AskedReading("gap", "Gap", "mm", 2))


class Talk:
    """A listener that sound is played to faster than it was spoken."""

    def __init__(self, engine, allowed=lambda: HERE) -> None:
        self.answers: queue.Queue = queue.Queue()
        self.failures: list = []
        self.now_s = 1000.0  # goes on only when a test says so
        self.listener = Listener(
            engine, allowed, self.answers.put, self.failures.append, now_s=lambda: self.now_s
        )
        self.listener.start()

    def play(self, sound: np.ndarray) -> None:
        sound = np.concatenate([quiet(0.6), sound, quiet(1.2)])
        for start in range(0, len(sound), BLOCK):
            self.listener.feed(sound[start : start + BLOCK])

    def answer(self):
        return self.answers.get()

    def silent(self) -> bool:
        """Whether all that was played has been listened to and led to nothing more."""
        while self.listener.busy:
            time.sleep(0.005)
        told = [self.answers.get_nowait() for _ in range(self.answers.qsize())]
        return all(answer.kind == "unheard" for answer in told)


def quiet(seconds: float) -> np.ndarray:
    return np.random.default_rng(5).normal(0, 10, int(seconds * RATE)).astype(np.int16)


@pytest.fixture
def talk(engine):
    talk = Talk(engine)
    yield talk
    talk.listener.stop()


@pytest.mark.parametrize(
    ("said", "action"),
    [
        ("next step", "next"),
        ("take the photo", "photo"),
        ("begin the hold", "start-hold"),
        ("read the cautions", "read-cautions"),
        ("name the phrases", "help"),
    ],
)
def test_a_spoken_phrase_is_done(talk, say, said, action):
    talk.play(say(said))
    answer = talk.answer()
    assert (answer.kind, answer.action) == ("do", action)


def test_one_phrase_is_done_once(talk, say):
    talk.play(say("next step"))
    talk.answer()
    assert talk.silent()


def test_a_spoken_reading_is_recorded_only_after_a_spoken_yes(talk, say):
    talk.play(say("twelve"))
    asked = talk.answer()
    talk.play(say("yes, confirmed"))
    done = talk.answer()
    assert (asked.kind, asked.value) == ("ask", "12")
    assert (done.kind, done.value, done.confirmed) == ("do", "12", True)


def test_stop_is_done_after_a_yes_that_names_it(talk, say):
    talk.play(say("stop the repair"))
    talk.play(say("yes, stop the repair"))
    assert [talk.answer().kind, talk.answer().kind] == ["ask", "do"]


def test_a_spoken_denial_is_no_yes(talk, say):
    talk.play(say("twelve"))
    talk.play(say("that isn't right"))
    assert talk.answer().kind == "ask"
    assert talk.answer().kind != "do"


def test_other_talk_does_nothing(talk, say):
    talk.play(say("the weather was better yesterday"))
    assert talk.silent()


def test_another_language_does_nothing(talk, say):
    talk.play(say("wo liegt der Schraubendreher", "de"))
    assert talk.silent()


def test_two_people_talking_at_once_do_nothing(talk, say):
    one, other = say("did you bring the tea"), say("the boat leaves at seven", "en-us+f3")
    both = np.zeros(max(len(one), len(other)), np.int32)
    both[: len(one)] += one
    both[: len(other)] += other
    talk.play(np.clip(both, -32768, 32767).astype(np.int16))
    assert talk.silent()


def test_the_app_s_own_voice_is_not_taken_for_a_command(talk, say):
    talk.listener.app_speaks(True)
    talk.play(say("next step"))
    talk.listener.app_speaks(False)
    assert talk.silent()


def test_the_echo_after_the_app_s_voice_is_not_heard(talk, say):
    talk.listener.app_speaks(True)
    sound = say("next step")
    middle = len(sound) // 2
    talk.listener.feed(sound[:middle])
    talk.listener.app_speaks(False)
    talk.listener.feed(sound[middle:])
    talk.play(quiet(1))
    assert talk.silent()


def test_it_listens_again_after_the_app_has_spoken(talk, say):
    talk.listener.app_speaks(True)
    talk.listener.app_speaks(False)
    talk.now_s += AFTER_SPEAKING_S + 0.05
    talk.play(say("next step"))
    assert talk.answer().action == "next"


def test_the_sign_shows_whether_it_listens(engine):
    listener = Listener(engine, lambda: HERE, lambda _: None)
    signs = [listener.sign]
    listener.start()
    signs.append(listener.sign)
    listener.app_speaks(True)
    signs.append(listener.sign)
    listener.stop()
    assert [*signs, listener.sign] == ["off", "listening", "speaking", "off"]


def test_nothing_is_heard_after_stop(talk, say):
    talk.listener.stop()
    talk.play(say("next step"))
    assert talk.silent()


def test_a_microphone_lost_in_the_middle_leaves_no_half_command(talk, say):
    sound = say("next step")
    talk.listener.feed(sound[: len(sound) * 2 // 3])
    talk.listener.lost()
    talk.play(quiet(1))
    assert talk.silent()


def test_sound_without_an_end_is_said_to_be_too_long(talk):
    answer = talk.listener.take(Utterance("cut", 1, quiet(10)))
    assert answer.kind == "refused"
    assert answer.code == "too-long"


def test_sound_without_an_end_is_complained_of_once_a_minute(engine):
    now = [0.0]
    listener = Listener(engine, lambda: HERE, lambda _: None, now_s=lambda: now[0])
    told = []
    for now[0] in (0.0, 10.0, 59.0, 61.0):
        told.append(listener.take(Utterance("cut", 1, quiet(10))) is not None)
    assert told == [True, False, False, True]


def test_an_engine_that_fails_turns_listening_off_and_says_so():
    class Broken:
        name, version = "broken", "1"

        def hear(self, *_):
            raise VoiceError(sentence("the engine failed"))

    talk = Talk(Broken())
    talk.play((np.sin(np.arange(RATE) * 0.3) * 9000).astype(np.int16))
    while not talk.failures:
        time.sleep(0.02)
    assert talk.listener.sign == "off"


def test_a_stop_that_is_hardly_understood_is_asked_about_at_its_second_saying(engine, say):
    talk = Talk(engine)
    for _ in range(2):
        talk.play(say("halt", "en-us+f3"))
    assert [talk.answer().kind for _ in range(2)] == ["unheard", "ask"]
    talk.listener.stop()


def test_an_utterance_is_recognised_once(engine, say):
    class Counting:
        name, version, heard = "counting", "1", 0

        def hear(self, *asked):
            self.heard += 1
            return engine.hear(*asked)

    counting = Counting()
    talk = Talk(counting)
    talk.play(say("twelve"))
    assert talk.answer().kind == "ask"
    assert counting.heard == 1
    talk.listener.stop()
