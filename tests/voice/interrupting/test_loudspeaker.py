"""What is played is known beside what is heard, always by the same time apart."""

from __future__ import annotations

import numpy as np

from evidence_app.voice.interrupting.loudspeaker import Loudspeaker

SOUND = np.arange(1, 30_001, dtype=np.int16)


def handed_on(loudspeaker: Loudspeaker, samples: int) -> np.ndarray:
    loudspeaker.beside(samples)
    return loudspeaker.played


def opened() -> Loudspeaker:
    loudspeaker = Loudspeaker()
    loudspeaker.open = True
    return loudspeaker


def test_blocks_of_different_lengths_do_not_shift_it():
    loudspeaker = opened()
    loudspeaker.pull(480)
    loudspeaker.play(SOUND)
    played = []
    for _ in range(50):
        loudspeaker.pull(480)
        played += [handed_on(loudspeaker, n) for n in (139, 1, 200, 140)]
    assert (np.concatenate(played)[480:] == SOUND[: 50 * 480 - 480]).all()


def test_what_was_taken_before_the_microphone_gave_anything_is_not_held_back_for_long():
    loudspeaker = opened()
    for _ in range(20):
        loudspeaker.pull(480)
    for _ in range(40):
        loudspeaker.pull(480)
        handed_on(loudspeaker, 480)
    loudspeaker.play(SOUND)
    blocks = []
    for _ in range(10):
        loudspeaker.pull(480)
        blocks.append(handed_on(loudspeaker, 480))
    assert 0 < np.flatnonzero(np.concatenate(blocks))[0] <= 960


def test_where_too_little_was_taken_silence_stands_for_it():
    loudspeaker = opened()
    loudspeaker.play(SOUND)
    loudspeaker.pull(100)
    assert handed_on(loudspeaker, 160).tolist() == [0] * 60 + SOUND[:100].tolist()
