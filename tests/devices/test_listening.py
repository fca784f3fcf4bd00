"""Spoken commands through a real sound server: loudspeaker, microphone, PortAudio, engine."""

from __future__ import annotations

import queue
import subprocess
import threading
import time

import pytest

from evidence_app.devices.portaudio import PortAudioMicrophone
from evidence_app.voice.prompts import Prompter
from evidence_app.voice.understanding.grammar import Allowed
from evidence_app.voice.understanding.listener import Listener

HERE = Allowed("step", frozenset({"next", "back", "photo", "help"}))


@pytest.fixture
def listening(sound_server, engine):
    answers: queue.Queue = queue.Queue()
    listener = Listener(engine, lambda: HERE, answers.put)
    microphone = PortAudioMicrophone()
    listener.start()
    heard = threading.Event()

    def hear(block) -> None:
        listener.feed(block)
        heard.set()

    microphone.start(hear)
    assert heard.wait()
    time.sleep(0.5)  # to know the noise of the place
    yield listener, answers
    microphone.stop()
    listener.stop()


def said_aloud(prompter: Prompter, text: str) -> None:
    done = threading.Event()
    prompter.say(text, done.set)
    assert done.wait()


def test_a_command_spoken_into_the_microphone_is_done(listening, sound_server, tmp_path):
    _, answers = listening
    path = tmp_path / "said.wav"
    subprocess.run(["espeak-ng", "-v", "en-us", "-w", path, "next step"], check=True)
    sound_server.play(path)
    assert answers.get().action == "next"


def test_the_app_s_own_voice_is_heard_by_the_microphone(listening):
    _, answers = listening
    prompter = Prompter(voice="en-us")
    said_aloud(prompter, "next step")
    prompter.close()
    assert answers.get().action == "next"


def test_the_app_s_own_voice_is_not_obeyed(listening):
    listener, answers = listening
    prompter = Prompter(listener.app_speaks, voice="en-us")
    said_aloud(prompter, "next step")
    prompter.close()
    with pytest.raises(queue.Empty):
        answers.get(timeout=2)
