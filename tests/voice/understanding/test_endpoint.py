"""Where utterances begin and end, in quiet and in noise."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from evidence_app.devices.microphone import BLOCK, RATE
from evidence_app.practice.microphone import speech
from evidence_app.voice.understanding.endpoint import Endpointer


def noise(seconds: float, rms: float, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, rms, int(seconds * RATE))


def heard(sound: np.ndarray, ends: Endpointer | None = None):
    ends = ends or Endpointer()
    sound = np.clip(sound, -32768, 32767).astype(np.int16)
    return [u for start in range(0, len(sound), BLOCK) for u in ends.feed(sound[start : start + BLOCK])]


@pytest.fixture(scope="module")
def said() -> np.ndarray:
    spoken = speech("the window lies flat", "hummed").astype(float)
    return spoken * 3000 / np.sqrt(np.mean(spoken**2))


def placed(said, background: float, before_s: float = 1.5, after_s: float = 1.5) -> np.ndarray:
    sound = np.concatenate([np.zeros(int(before_s * RATE)), said, np.zeros(int(after_s * RATE))])
    return sound + noise(len(sound) / RATE, background)[: len(sound)]


@pytest.mark.parametrize("background", [0, 30, 300, 950], ids=["still", "quiet", "20dB", "10dB"])
def test_one_utterance_is_heard_as_one(said, background):
    found = [u for u in heard(placed(said, background)) if u.kind != "pause"]
    assert [u.kind for u in found] == ["end"]
    assert 0.8 * len(said) < len(found[0].samples) + 0.6 * RATE < 1.5 * len(said) + 1.2 * RATE


def test_an_utterance_pauses_before_it_ends(said):
    assert [u.kind for u in heard(placed(said, 30))][-2:] == ["pause", "end"]


def test_an_utterance_is_under_way_until_it_has_ended_and_not_in_the_quiet(said):
    ends = Endpointer()
    before, after = noise(1.5, 30).astype(np.int16), noise(1.5, 30, seed=2).astype(np.int16)
    ends.feed(before)
    quiet = ends.under_way
    ends.feed(said.astype(np.int16))
    speaking = ends.under_way
    ends.feed(after)
    assert (quiet, speaking, ends.under_way) == (False, True, False)


@pytest.mark.parametrize("background", [0, 3, 300, 3000])
def test_noise_alone_is_no_utterance(background):
    assert heard(noise(10, background)) == []


def test_a_knock_is_no_utterance():
    sound = noise(3, 30)
    sound[RATE : RATE + 800] += noise(0.05, 8000)
    assert heard(sound) == []


def test_a_machine_that_is_switched_on_becomes_part_of_the_place(said):
    sound = np.concatenate(
        [
            noise(2, 30),
            noise(14, 900, 2),
            placed(said, 0) + noise((len(said) + 3 * RATE) / RATE, 900, 3)[: len(said) + 3 * RATE],
        ]
    )
    found = [u for u in heard(sound) if u.kind != "pause"]
    assert found[-1].kind == "end"
    assert len([u for u in found if u.kind == "end"]) <= 2


def test_speech_without_an_end_is_cut_at_the_limit(said):
    found = heard(np.concatenate([noise(1, 30), np.tile(said, 20)]), Endpointer(longest_s=4))
    cut = next(u for u in found if u.kind == "cut")
    assert len(cut.samples) == 4 * RATE


def test_a_voice_far_below_does_not_keep_an_utterance_going(said):
    radio = np.tile(said, 4) * 10 ** (-15 / 20)
    sound = np.concatenate([noise(1, 30), said, radio])
    near = heard(sound, Endpointer(near=True))
    assert next(u for u in near if u.kind != "pause").kind == "end"
    assert len(near[0].samples) < 1.4 * len(said)


def test_a_nearer_voice_begins_an_utterance_of_its_own(said):
    radio = np.tile(said, 2) * 10 ** (-15 / 20)
    sound = np.concatenate([noise(1, 30), radio, said, noise(1.5, 30)])
    ended = [u for u in heard(sound, Endpointer(near=True)) if u.kind == "end"]
    assert len(ended[-1].samples) < 1.4 * len(said)


def test_the_end_of_the_sound_ends_the_utterance(said):
    ends = Endpointer()
    assert not [u for u in heard(placed(said, 30, after_s=0), ends) if u.kind == "end"]
    assert [u.kind for u in ends.flush()] == ["end"]


def test_the_size_of_blocks_makes_no_difference(said):
    sound = placed(said, 300).astype(np.int16)
    ends = Endpointer()
    pieces = np.split(sound, np.cumsum(np.random.default_rng(4).integers(1, 900, 100)))
    found = [u for piece in pieces for u in ends.feed(piece)]
    assert [len(u.samples) for u in found] == [len(u.samples) for u in heard(sound)]


def test_memory_does_not_grow_with_the_time_listened():
    ends = Endpointer()
    block = noise(1, 300).astype(np.int16)
    tracemalloc.start()
    for _ in range(30):
        ends.feed(block)
    early = tracemalloc.get_traced_memory()[0]
    for _ in range(90):
        ends.feed(block)
    grown = tracemalloc.get_traced_memory()[0] - early
    tracemalloc.stop()
    assert grown < 20_000
