"""What the level meter shows, and which sentence it says."""

from __future__ import annotations

import numpy as np
import pytest

from evidence_app.devices.microphone import RATE
from evidence_app.practice.microphone import speech
from evidence_app.voice.levels import CLIPS, HEARS_NOTHING, PLACE_TOO_LOUD, LevelMeter
from tests.voice.conftest import blocks_of


def after(sound: np.ndarray):
    meter = LevelMeter()
    for block in blocks_of(np.rint(sound).astype(np.int16)):
        meter.feed(block)
    return meter.level()


def sine(seconds: float, amplitude: float) -> np.ndarray:
    return amplitude * 32767 * np.sin(2 * np.pi * 997 * np.arange(int(seconds * RATE)) / RATE)


def noise(seconds: float, rms: float) -> np.ndarray:
    return np.random.default_rng(2).standard_normal(int(seconds * RATE)) * rms


@pytest.mark.parametrize(("amplitude", "dbfs"), [(1.0, 0.0), (0.1, -20.0), (0.001, -60.0)])
def test_sine_has_the_level_of_its_amplitude(amplitude, dbfs):
    assert after(sine(1, amplitude)).rms_dbfs == pytest.approx(dbfs, abs=0.2)


def test_speech_needs_no_sentence():
    text = "The front window is bonded and lies flat on all four sides. "
    assert after(speech(text * 3)).sentence is None


def test_fast_speech_near_full_scale_is_not_a_loud_place():
    loud = speech("The bail stand holds at both tabs and folds out freely. " * 3).astype(float)
    assert after(loud * (29000 / np.abs(loud).max())).sentence is None


@pytest.mark.parametrize("rms", [0, 3])
def test_two_seconds_of_silence_are_said(rms):
    assert after(noise(2.1, rms)).sentence == HEARS_NOTHING


def test_a_short_pause_is_not_called_silence(sound):
    assert after(np.concatenate([sound, np.zeros(RATE)])).sentence is None


def test_sound_cut_flat_is_said():
    assert after(np.clip(sine(1, 1.6), -32768, 32767)).sentence == CLIPS


def test_single_full_scale_samples_are_not_clipping():
    sound = sine(1, 0.3)
    sound[::500] = 32767
    assert after(sound).sentence != CLIPS


def test_steady_noise_is_a_loud_place():
    assert after(noise(6, 1500)).sentence == PLACE_TOO_LOUD


def test_before_any_sound_there_is_no_sentence():
    assert LevelMeter().level().sentence is None
