"""Sounds for the voice benchmark: recorded prompts, synthetic voices, workshop noise."""

from __future__ import annotations

import gzip
import os
import subprocess
import tempfile
import zlib
from pathlib import Path

import numpy as np

from evidence_app.voice.understanding.words import ENGLISH

RATE = 16_000
SOUNDS = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
TEXTS = Path("/usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz")
ONES = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]


DEV_DECIMALS = (
    ("nought point one five", "0.15"),
    ("oh point two four", "0.24"),
    ("point three six millimetres", "0.36"),
    ("um nought point two please", "0.2"),
    ("zero dot two five", "0.25"),
    ("one point five", "1.5"),
    ("nine hundredths", "0.09"),
    ("half a millimetre", "0.5"),
    ("nought point oh six", "0.06"),
    ("twelve point seven five", "12.75"),
    ("er one point nine", "1.9"),
    ("three quarters", "0.75"),
    ("it is nought point four four", "0.44"),
    ("seven dot oh one", "7.01"),
    ("zero point four eight", "0.48"),
    ("three hundredths", "0.03"),
    ("fourteen hundredths", "0.14"),
    ("seven tenths", "0.7"),
    ("two point eight", "2.8"),
    ("point one seven", "0.17"),
    ("zero dot three seven", "0.37"),
    ("thirteen point three millimetres", "13.3"),
    ("um zero point one nine please", "0.19"),
    ("er nought point seven", "0.7"),
    ("oh point three eight", "0.38"),
)
DECIMALS = (
    ("nought point one two", "0.12"),
    ("zero point one two", "0.12"),
    ("zero point three five", "0.35"),
    ("nought point two eight", "0.28"),
    ("oh point one two", "0.12"),
    ("point one two millimetres", "0.12"),
    ("point four five", "0.45"),
    ("zero dot one eight", "0.18"),
    ("one dot four", "1.4"),
    ("twelve hundredths", "0.12"),
    ("three tenths", "0.3"),
    ("a quarter", "0.25"),
    ("two point six", "2.6"),
    ("eleven point four millimetres", "11.4"),
    ("um nought point one five please", "0.15"),
    ("er zero point two", "0.2"),
)


def values(dev: bool) -> list[str]:
    """Numbers, none of them in both sets."""
    chance = np.random.default_rng(3)
    whole = sorted(
        {
            *map(str, range(20, 100, 3)),
            *map(str, chance.integers(100, 1000, 40)),
            *map(str, chance.integers(1000, 10_000, 20)),
        }
    )
    digits = ["".join(map(str, chance.integers(1, 10, n))) for n in (2, 3, 4) for _ in range(8)]
    decimals = [f"{a}.{b}" for a in (0, 1, 12, 40) for b in ("2", "05", "75")]
    return [v for place, v in enumerate([*whole, *digits, *decimals]) if place % 2 == dev]


def in_words(value: str) -> str:
    whole, _, fraction = value.partition(".")
    return cardinal(int(whole)) + (" point " + " ".join(ONES[int(d)] for d in fraction) if fraction else "")


def cardinal(n: int) -> str:
    names = {v: w for table in (ENGLISH.small, ENGLISH.tens) for w, v in table.items()}
    if n < 10:
        return ONES[n]
    if n in names:
        return names[n]
    if n < 100:
        return f"{names[n // 10 * 10]} {ONES[n % 10]}"
    size, name = (1000, "thousand") if n >= 1000 else (100, "hundred")
    rest = f" {'and ' if size == 100 or n % size < 100 else ''}{cardinal(n % size)}"
    return f"{cardinal(n // size)} {name}" + (rest if n % size else "")


def prompts(value: str) -> list[str]:
    """As one number, without "and", which was not recorded; four different digits by themselves."""
    if len(set(value)) == len(value) == 4:
        return list(value)
    n, parts = int(value), []
    for size, name in ((1000, "thousand"), (100, "hundred")):
        if n >= size:
            parts += [str(n // size), name]
            n %= size
    if n > 20 and n % 10:
        return [*parts, str(n // 10 * 10), str(n % 10)]
    return [*parts, str(n)] if n or not parts else parts


def spoken(voices, texts, again: bool = False):
    for voice in voices:
        for text, truth in texts:
            yield say(voice, text, again), truth


def say(voice: tuple[str, str], text: str, again: bool = False) -> np.ndarray:
    """``again``: a sixth slower, as who was not understood says it once more."""
    kept = os.environ.get("EVIDENCE_BENCH_SOUNDS")
    if not kept:
        return _made(voice, text, again)
    name = f"{zlib.crc32(f'{voice} {text}'.encode()):08x}-{voice[1]}{'-again' * again}.npy"
    path = Path(kept) / name
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        np.save(path, _made(voice, text, again))
    return np.load(path)


def _made(voice: tuple[str, str], text: str, again: bool) -> np.ndarray:
    import soundfile
    import soxr

    pace, stretch = ("128", "1.17") if again else ("150", "1.0")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        command = (
            ["espeak-ng", "-v", voice[1], "-s", pace, "-w", path, text]
            if voice[0] == "espeak"
            else [
                "flite",
                "-voice",
                voice[1],
                "--setf",
                f"duration_stretch={stretch}",
                "-t",
                text,
                "-o",
                path,
            ]
        )
        subprocess.run(command, check=True, capture_output=True, timeout=60)
        sound, rate = soundfile.read(path, dtype="float32")
    return soxr.resample(sound, rate, RATE)


def g722(name: str) -> np.ndarray:
    import av

    with av.open(str(SOUNDS / f"{name}.g722"), format="g722") as file:
        frames = [f.to_ndarray().reshape(-1) for f in file.decode(audio=0)]
    return np.concatenate(frames).astype(np.float32) / 32768


def joined(words: list[np.ndarray]) -> np.ndarray:
    """Recorded words in a row, with a breath of 60 ms between them."""
    breath = np.zeros(int(0.06 * RATE), np.float32)
    trimmed = []
    for word in words:
        loud = np.flatnonzero(np.abs(word) > 0.01)
        trimmed += [word[loud[0] : loud[-1] + 1] if len(loud) else word, breath]
    return np.concatenate(trimmed)


def noisy(sound: np.ndarray, snr: int | None, key: int, dev: bool) -> np.ndarray:
    """One second of the place before and after; the level is that of speech at the mouth."""
    loud = sound[np.abs(sound) > 0.01]
    sound = sound * (0.08 / max(1e-6, float(np.sqrt(np.mean(loud**2))) if len(loud) else 1))
    sound = np.concatenate([np.zeros(RATE), sound, np.zeros(int(1.2 * RATE))])
    chance = np.random.default_rng(zlib.crc32(f"{key} {dev}".encode()))
    noise = workshop(len(sound), chance, key % 3)
    level = 0.0003 if snr is None else 0.08 / 10 ** (snr / 20)
    noise *= level / np.sqrt(np.mean(noise**2))
    return np.clip((sound + noise) * 32767, -32768, 32767).astype(np.int16)


def workshop(n: int, chance: np.random.Generator, kind: int) -> np.ndarray:
    """Hiss that falls by 6 dB an octave with mains hum; a motor's howl; knocks on metal."""
    t = np.arange(n) / RATE
    white = chance.normal(size=n)
    pink = np.fft.irfft(np.fft.rfft(white) / np.maximum(1, np.arange(n // 2 + 1)) ** 0.5, n)
    noise = pink / np.std(pink) + 0.4 * np.sin(2 * np.pi * 100 * t)
    if kind == 1:
        speed = 180 + 15 * np.sin(2 * np.pi * 0.4 * t)
        phase = 2 * np.pi * np.cumsum(speed) / RATE
        noise += sum(np.sin(k * phase) / k for k in range(1, 12))
    if kind == 2:
        for start in chance.integers(0, n, max(1, n // RATE)):
            tail = t[: n - start]
            noise[start:] += 6 * np.exp(-tail * 18) * np.sin(2 * np.pi * 1900 * tail)
    return noise


def transcripts():
    for line in gzip.decompress(TEXTS.read_bytes()).decode("utf-8").splitlines():
        name, colon, text = line.partition(":")
        if colon and not line.startswith(";") and (SOUNDS / f"{name}.g722").exists():
            yield name, text.strip()
