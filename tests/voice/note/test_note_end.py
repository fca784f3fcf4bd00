"""A note that nobody ends is over after a long quiet that follows speech."""

from __future__ import annotations

import numpy as np
import pytest

from evidence_app.voice.note.end import NoteEnd
from tests.voice.conftest import blocks_of


def quiet(seconds: float) -> np.ndarray:
    return np.random.default_rng(3).normal(0, 12, int(16_000 * seconds)).astype(np.int16)


def feed(end: NoteEnd, *sounds: np.ndarray) -> None:
    for sound in sounds:
        for block in blocks_of(sound):
            end.feed(block)


def test_a_note_in_which_nobody_spoke_is_not_over():
    end = NoteEnd(2.0)
    feed(end, quiet(5))
    assert end.left_s is None and not end.spoken


def test_it_is_over_after_the_quiet_that_follows_speech(sound):
    end = NoteEnd(2.0)
    feed(end, quiet(1), sound, quiet(5))
    assert end.left_s == 0


def test_a_short_pause_does_not_end_it(sound):
    end = NoteEnd(2.0)
    feed(end, quiet(1), sound, quiet(1))
    assert 0.5 < end.left_s < 2.0


def test_speaking_again_begins_the_quiet_anew(sound):
    end = NoteEnd(2.0)
    feed(end, quiet(1), sound, quiet(1.5), sound, quiet(0.5))
    assert end.left_s > 1.0


@pytest.mark.parametrize("seconds", [0.0, 0.4])
def test_no_sound_at_all_is_no_end(seconds):
    end = NoteEnd(0.1)
    feed(end, np.zeros(int(16_000 * seconds), np.int16))
    assert end.left_s is None
