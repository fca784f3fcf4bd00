"""A microphone that says a given text: spoken where the system can, otherwise hummed.

The same text gives the same sound on the same machine. espeak-ng speaks it; where that
is not installed, the text becomes a row of voiced and noisy sounds with the rhythm and
spectrum of speech, which a level meter and a codec take for speech and a person does not.
"""

import subprocess
import zlib
from collections.abc import Iterator
from typing import Literal

import numpy as np

from evidence_app.devices.microphone import BLOCK, RATE
from evidence_app.devices.named import register_microphone
from evidence_app.devices.played import PlayedMicrophone
from evidence_app.voice.prompts import sound_of

Voice = Literal["spoken", "hummed"]

_SPEAK_TIMEOUT_S = 60
_PAUSE_S = 0.3  # of silence before and after
# First and second formant in Hz, after Peterson and Barney (1952), from memory.
_FORMANTS = {
    "a": (730, 1090),
    "e": (530, 1840),
    "i": (270, 2290),
    "o": (570, 840),
    "u": (300, 870),
    "y": (390, 1990),
}
_VOICED = "bdgjlmnrvwz"
_PITCH_HZ = 118.0


class PracticeMicrophone(PlayedMicrophone):
    """Hands on ``speech(text)``."""

    def __init__(self, text: str, realtime: bool = True) -> None:
        super().__init__("practice microphone", realtime)
        self._text = text

    def blocks(self) -> Iterator[np.ndarray]:
        sound = speech(self._text)
        for start in range(0, len(sound), BLOCK):
            yield sound[start : start + BLOCK]


def speech(text: str, voice: Voice | None = None) -> np.ndarray:
    """``text`` as sound: int16, shape (n,), 16 kHz, with a short silence at both ends.

    ``voice`` None: spoken where espeak-ng is installed and works, otherwise hummed.
    """
    sound = _spoken(text) if voice != "hummed" else None
    if sound is None:
        sound = _hummed(text)
    pause = np.zeros(int(_PAUSE_S * RATE), np.int16)
    return np.concatenate([pause, sound, pause])


def _spoken(text: str) -> np.ndarray | None:
    # By standard input, since a text may begin with a dash.
    command = ["espeak-ng", "-v", "en", "-s", "150", "--stdout", "--stdin"]
    try:
        done = subprocess.run(
            command, input=text.encode(), capture_output=True, check=True, timeout=_SPEAK_TIMEOUT_S
        )
    except (OSError, subprocess.SubprocessError):
        return None
    return sound_of(done.stdout)


def _hummed(text: str) -> np.ndarray:
    noise = np.random.default_rng(zlib.crc32(text.encode()))
    letters = [letter for letter in text.lower() if letter.isalnum() or letter.isspace()]
    sounds = [
        _letter(letter, _PITCH_HZ * (1.12 - 0.25 * place / max(1, len(letters))), noise)
        for place, letter in enumerate(letters)
    ]
    return np.concatenate(sounds) if sounds else np.zeros(0, np.int16)


def _letter(letter: str, pitch_hz: float, noise: np.random.Generator) -> np.ndarray:
    """A vowel is long and resonant, a voiced consonant soft, any other a breath."""
    if letter.isspace():
        return np.zeros(int(0.09 * RATE), np.int16)
    vowel = letter in _FORMANTS
    time_s = np.arange(int((0.11 if vowel else 0.06) * RATE)) / RATE
    if vowel or letter in _VOICED:
        first, second = _FORMANTS.get(letter, (250, 1200))
        wave = sum(
            _resonance(harmonic * pitch_hz, first, second)
            * np.sin(2 * np.pi * harmonic * pitch_hz * time_s)
            for harmonic in range(1, int(4000 / pitch_hz))
        )
        loudness = 0.30 if vowel else 0.12
    else:
        wave = np.diff(noise.standard_normal(len(time_s) + 1))  # brighter than white noise
        loudness = 0.05
    wave = wave * np.hanning(len(time_s))
    return np.rint(wave / np.abs(wave).max() * loudness * 32767).astype(np.int16)


def _resonance(frequency_hz: float, first_hz: float, second_hz: float) -> float:
    """Two resonances of 120 Hz width, the second half as strong."""
    return 1 / (1 + ((frequency_hz - first_hz) / 120) ** 2) + 0.5 / (
        1 + ((frequency_hz - second_hz) / 120) ** 2
    )


register_microphone("practice", PracticeMicrophone)
