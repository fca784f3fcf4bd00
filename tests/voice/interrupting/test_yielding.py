"""The app falls silent for a person who speaks into what it reads, and for nobody else.

The real canceller in the simulated rooms of the benchmark; the app's voice is espeak-ng's.
"""

from __future__ import annotations

import numpy as np
import pytest

from evidence_app.voice.interrupting.canceller import Canceller, library
from evidence_app.voice.interrupting.loudspeaker import Loudspeaker
from evidence_app.voice.interrupting.yielding import Yielding
from tests.bench._barge_rooms import BLOCK, OWN, Room, as_loud

READ = "The rules of the depot are long, and each of them is read aloud to its very end. " * 5
_ON_ITS_WAY = [np.zeros(BLOCK, np.int16)] * 3


class Reading:
    def __init__(self, say, seed: int = 3, **room) -> None:
        self.loudspeaker = Loudspeaker()
        self.loudspeaker.open = True
        self.yielding = Yielding(Canceller(), self.loudspeaker)
        self.room = Room(seed, 0, **room)
        self.listened = np.zeros(0, np.int16)
        self.armed: list[bool] = []
        self._on_its_way = list(_ON_ITS_WAY)
        self._text = as_loud(say(READ, "en").astype(float), OWN).astype(np.int16)

    def read(self, seconds: float = 60.0, by: Loudspeaker | None = None) -> bool:
        """Read the text, or so much of it; whether the app fell silent before its end. ``by``:
        another loudspeaker, that of a note perhaps, of which nothing is known."""
        loudspeaker = by or self.loudspeaker
        loudspeaker.play(self._text[: int(seconds * 16_000)])
        while loudspeaker.busy and not self.loudspeaker.paused:
            self.step(by)
        return self.loudspeaker.paused

    def step(self, by: Loudspeaker | None = None) -> None:
        played = self.loudspeaker.pull(BLOCK)
        self._on_its_way.append(by.pull(BLOCK) if by else played)
        heard = self.room.hears(self._on_its_way.pop(0))
        left = self.yielding.feed(heard, played)
        self.listened = np.concatenate([self.listened, left])
        self.armed.append(self.yielding.canceller.armed)


@pytest.fixture
def reading(say):
    if library() is None:
        pytest.skip("libspeexdsp1 is not installed")
    return lambda **room: Reading(say, **room)


def test_its_own_voice_does_not_silence_it(reading):
    app = reading()
    assert not app.read()
    assert app.armed[-1]
    assert not app.read()
    assert len(app.listened) == 0


def test_a_person_silences_it_and_is_heard_from_the_beginning(reading, say):
    app = reading()
    app.read()
    said = say("stop the repair", "en-us").astype(float)
    said = said[np.flatnonzero(np.abs(said) > 300)[0] :]
    app.room.says(said)
    assert app.read()
    while app.loudspeaker.paused and len(app.listened) < len(said) + 8000:
        app.step()
    size = 1 << 17
    product = np.fft.irfft(np.fft.rfft(app.listened, size) * np.conj(np.fft.rfft(said, size)), size)
    start = int(np.argmax(product))
    assert start < len(app.listened) - len(said)  # the whole of it, its first sound included
    piece = app.listened[start : start + len(said)].astype(float)
    assert piece @ said / np.sqrt((piece @ piece) * (said @ said)) > 0.5


def test_before_it_knows_the_room_it_reads_on(reading, say):
    app = reading()
    app.room.says(say("stop the repair", "en-us").astype(float))
    assert not app.read(3.0)


def test_what_another_program_plays_does_not_silence_it(reading):
    app = reading()
    app.read()
    note = Loudspeaker()
    note.open = True
    assert not app.read(by=note)


def test_on_another_clock_than_the_microphone_s_it_trusts_nothing(reading):
    app = reading(drift_ppm=100)
    app.read()
    assert not any(app.armed)


@pytest.mark.parametrize("seed", range(4))
def test_when_sound_was_lost_it_learns_the_room_anew(reading, seed):
    app = reading(seed=seed)
    app.read()
    assert app.armed[-1]
    app.room.jumps(0.03)
    before = len(app.armed)
    while app.read():  # its own voice, for a moment taken for a person's
        for _ in range(60):
            app.step()
        if not app.armed[-1]:
            break
        app.loudspeaker.paused = False
    assert not all(app.armed[before:])
