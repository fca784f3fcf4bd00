"""The practice microphone says its text, the same way each time."""

from __future__ import annotations

import numpy as np
import pytest

from evidence_app.devices.microphone import RATE
from evidence_app.devices.named import open_microphone
from evidence_app.practice.microphone import PracticeMicrophone, speech
from tests.devices.playing import played_out

TEXT = "Residue seen at the lower left corner of the slot."


@pytest.mark.parametrize("voice", [None, "hummed"])
def test_same_text_gives_the_same_sound(voice):
    assert np.array_equal(speech(TEXT, voice), speech(TEXT, voice))


@pytest.mark.parametrize("voice", [None, "hummed"])
def test_other_text_gives_other_sound(voice):
    assert not np.array_equal(speech("clear", voice), speech("seven", voice))


@pytest.mark.parametrize("voice", [None, "hummed"])
def test_sound_has_length_and_loudness_of_speech(voice):
    sound = speech(TEXT, voice)
    assert 2 * RATE < len(sound) < 8 * RATE
    assert 300 < np.sqrt(np.mean(sound.astype(float) ** 2)) < 8000
    assert np.abs(sound.astype(int)).max() < 32767


@pytest.mark.parametrize("text", ["", "-v --help", "?!", "Grüße aus Ö", "長い"])
@pytest.mark.parametrize("voice", [None, "hummed"])
def test_any_text_can_be_said(text, voice):
    assert speech(text, voice).dtype == np.int16


def test_without_a_speech_program_it_is_hummed(monkeypatch, tmp_path):
    monkeypatch.setenv("PATH", str(tmp_path))
    assert np.array_equal(speech(TEXT), speech(TEXT, "hummed"))


def test_microphone_hands_on_the_whole_text():
    blocks = []
    microphone = PracticeMicrophone(TEXT, realtime=False)
    microphone.start(blocks.append)
    assert played_out(microphone)
    microphone.stop()
    assert np.array_equal(np.concatenate(blocks), speech(TEXT))


def test_microphone_opens_by_its_written_name():
    assert open_microphone(f"practice:{TEXT}").name == "practice microphone"
