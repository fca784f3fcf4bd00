"""Sound to record, and a folder to record it into."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from evidence_app.devices.microphone import BLOCK, RATE
from evidence_app.devices.played import FileMicrophone
from evidence_app.practice.microphone import speech

STARTED = {"wall": "2026-03-02T08:15:30.123+01:00", "mono_us": 30_000_000, "boot": "practice-1"}


@pytest.fixture
def scratch(tmp_path: Path) -> Path:
    return tmp_path / "job ¶" / "scratch"


@pytest.fixture(scope="session")
def sound() -> np.ndarray:
    """Five seconds of speech-like sound, no two of them alike."""
    text = "The window lies flat. No residue in the slot. Both tabs sit in the lining. "
    return speech(text * 2, "hummed")[: 5 * RATE]


def blocks_of(sound: np.ndarray):
    for start in range(0, len(sound), BLOCK):
        yield sound[start : start + BLOCK]


@pytest.fixture(scope="session")
def say(tmp_path_factory):
    """Speech of a synthetic voice, int16 at 16 kHz."""
    if not shutil.which("espeak-ng"):
        pytest.skip("espeak-ng is not installed")
    path = tmp_path_factory.mktemp("say") / "said.wav"

    def speak(text: str, voice: str = "en-gb") -> np.ndarray:
        subprocess.run(["espeak-ng", "-v", voice, "-s", "150", "-w", path, text], check=True)
        return np.concatenate(list(FileMicrophone(path).blocks()))

    return speak
