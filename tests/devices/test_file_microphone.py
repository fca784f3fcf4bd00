"""Sound files of many kinds, played as a microphone."""

from __future__ import annotations

import time

import numpy as np
import pytest
import soundfile

from evidence_app.devices.microphone import RATE
from evidence_app.devices.named import open_microphone
from evidence_app.devices.played import FileMicrophone
from evidence_app.devices.watch import DeviceLost
from tests.devices.conftest import until
from tests.devices.playing import played_out


def heard(path) -> np.ndarray:
    blocks = []
    microphone = FileMicrophone(path, realtime=False)
    microphone.start(lambda block: blocks.append(block.copy()))
    assert played_out(microphone)
    microphone.stop()
    assert all(block.dtype == np.int16 and block.ndim == 1 for block in blocks)
    return np.concatenate(blocks) if blocks else np.zeros(0, np.int16)


def tone(rate: int, seconds: float = 1.0, hz: float = 440.0) -> np.ndarray:
    return 0.5 * np.sin(2 * np.pi * hz * np.arange(int(rate * seconds)) / rate)


@pytest.mark.parametrize("format", ["WAV", "FLAC"])
def test_sound_of_the_right_form_passes_untouched(tmp_path, format):
    sound = np.random.default_rng(1).integers(-32768, 32768, RATE).astype(np.int16)
    soundfile.write(tmp_path / "a", sound, RATE, "PCM_16", format=format)
    assert np.array_equal(heard(tmp_path / "a"), sound)


@pytest.mark.parametrize("rate", [8000, 11025, 22050, 44100, 48000, 96000])
def test_any_rate_becomes_16_khz(tmp_path, rate):
    soundfile.write(tmp_path / "a.wav", tone(rate), rate)
    sound = heard(tmp_path / "a.wav") / 32768
    assert len(sound) == pytest.approx(RATE, abs=2)
    middle = slice(RATE // 10, -RATE // 10)
    assert np.abs(sound[middle] - tone(RATE)[: len(sound)][middle]).max() < 0.002


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_24", "FLOAT", "DOUBLE", "ULAW"])
def test_any_sample_form_keeps_its_loudness(tmp_path, subtype):
    soundfile.write(tmp_path / "a.wav", tone(RATE), RATE, subtype)
    assert np.abs(heard(tmp_path / "a.wav").astype(int)).max() == pytest.approx(16384, rel=0.05)


def test_frequencies_above_the_limit_do_not_fold_back(tmp_path):
    soundfile.write(tmp_path / "a.wav", tone(48000, hz=15000), 48000)
    assert np.abs(heard(tmp_path / "a.wav")[800:-800].astype(int)).max() < 20


def test_stereo_is_mixed_to_the_mean(tmp_path):
    both = np.column_stack([np.full(RATE, 30000), np.full(RATE, 20000)]).astype(np.int16)
    soundfile.write(tmp_path / "a.wav", both, RATE)
    assert set(heard(tmp_path / "a.wav")) == {25000}


def test_empty_file_is_silence_without_length(tmp_path):
    soundfile.write(tmp_path / "a.wav", np.zeros(0), RATE)
    assert len(heard(tmp_path / "a.wav")) == 0


def test_real_time_is_no_faster_than_speech(tmp_path):
    soundfile.write(tmp_path / "a.wav", tone(RATE, 0.4), RATE)
    microphone = FileMicrophone(tmp_path / "a.wav")
    started = time.monotonic()
    microphone.start(lambda block: None)
    assert played_out(microphone)
    assert time.monotonic() - started >= 0.39
    microphone.stop()


def test_end_of_the_file_is_not_a_loss(tmp_path):
    soundfile.write(tmp_path / "a.wav", tone(RATE, 0.1), RATE)
    news = []
    microphone = FileMicrophone(tmp_path / "a.wav", realtime=False)
    microphone.listen(news.append)
    microphone.start(lambda block: None)
    assert played_out(microphone)
    assert "to its end" in str(microphone.status().message)
    microphone.stop()
    assert news == []


def test_no_block_comes_after_stop(tmp_path):
    soundfile.write(tmp_path / "a.wav", tone(RATE, 5), RATE)
    blocks = []
    microphone = FileMicrophone(tmp_path / "a.wav")
    microphone.start(blocks.append)
    until(lambda: blocks)
    microphone.stop()
    count = len(blocks)
    time.sleep(0.1)
    assert len(blocks) == count


def test_flac_that_breaks_off_is_handed_on_so_far_and_lost(tmp_path):
    noise = np.random.default_rng(1).integers(-9000, 9000, 5 * RATE).astype(np.int16)
    soundfile.write(tmp_path / "a.flac", noise, RATE)
    data = (tmp_path / "a.flac").read_bytes()
    (tmp_path / "a.flac").write_bytes(data[: len(data) // 2])
    news, blocks = [], []
    microphone = FileMicrophone(tmp_path / "a.flac", realtime=False)
    microphone.listen(news.append)
    microphone.start(lambda block: blocks.append(block.copy()))
    assert not played_out(microphone)
    microphone.stop()
    sound = np.concatenate(blocks)
    assert len(sound) > RATE
    assert np.array_equal(sound[:RATE], noise[:RATE])
    assert [type(item) for item in news] == [DeviceLost]


@pytest.mark.parametrize("content", [None, b"", b"not sound at all"])
def test_file_that_is_no_sound_is_said(tmp_path, content):
    if content is not None:
        (tmp_path / "a.wav").write_bytes(content)
    microphone = open_microphone(f"file:{tmp_path}/a.wav")
    microphone.start(lambda block: None)
    until(lambda: "cannot be read" in str(microphone.status().message))
    microphone.stop()
