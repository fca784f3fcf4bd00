"""How well spoken numbers, commands and dictation are understood, and how fast.

    python -m tests.bench voice [--dev] [--quick] [--threads N]

Human speech: the prompts of Debian's asterisk-core-sounds-en-g722 with their transcripts
(one speaker), decoded by PyAV. Synthetic voices: espeak-ng and flite. Noise is generated:
hum, hiss, a grinder's howl and knocks. Thresholds were set with --dev only; what is
scored without it uses other numbers, voices, talk and noise. Needs, installed once:

    apt-get install asterisk-core-sounds-en-g722 asterisk-core-sounds-en espeak-ng flite
    pip install av 'evidence-app[voice]'
"""

from __future__ import annotations

import argparse
import gzip
import re
import shutil
import subprocess
import sys
import tempfile
import time
import zlib
from collections import Counter
from pathlib import Path

import numpy as np

from evidence_app.voice.endpoint import Endpointer
from evidence_app.voice.grammar import Allowed, AskedReading, Said, phrases_for, understand
from evidence_app.voice.listener import _value_of
from evidence_app.voice.recogniser import SpeechRecogniser
from evidence_app.voice.words import ENGLISH

RATE = 16_000
SOUNDS = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
TEXTS = Path("/usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz")
SNRS = (None, 20, 10, 5)
DEV_VOICES = [
    ("espeak", "en-us"),
    ("espeak", "en-us+f3"),
    ("espeak", "en-gb-scotland+m3"),
    ("flite", "awb"),
]
SCORE_VOICES = [
    ("espeak", "en-gb"),
    ("espeak", "en-gb-x-rp"),
    ("espeak", "en-us+m7"),
    ("espeak", "en-gb+f2"),
    ("espeak", "en-us+f4"),
    ("espeak", "en-gb+m1"),
    ("espeak", "en-gb-x-rp+f5"),
    ("flite", "slt"),
    ("flite", "rms"),
    ("flite", "kal16"),
]
ONES = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
TALK = [
    "did you see the game last night",
    "where did I put the screwdriver",
    "pass me the cloth please",
    "it is raining again",
    "the van is outside",
    "next week I am away",
    "I will take the train",
    "no",
    "yes",
    "okay",
    "right",
    "stop",
    "clear",
    "next",
    "back",
    "hello",
    "thank you",
    "take a look at this",
    "hold this for me",
    "that is not what he said",
    "is that right",
    "he took a photo of the boat",
    "the repair was easy",
    "stop it",
    "go home",
    "read the paper",
    "what did you say",
    "how long have you been here",
    "begin with the other one",
    "the last entry was on Monday",
]


def main(argv: list[str]) -> int:
    options = argparse.ArgumentParser(prog="tests.bench voice")
    options.add_argument("--dev", action="store_true", help="the set that thresholds are set on")
    options.add_argument("--quick", action="store_true", help="a quarter of each set")
    options.add_argument("--threads", type=int, default=1)
    chosen = options.parse_args(argv)
    missing = _missing()
    if missing:
        print("not measured; install first:", missing, file=sys.stderr)
        return 2
    bench = _Bench(chosen.dev, 4 if chosen.quick else 1, chosen.threads)
    print(f"{'development' if chosen.dev else 'scoring'} set, {chosen.threads} thread(s)")
    print(f"{'':44}" + "".join(f"{_name(snr):>22}" for snr in SNRS))
    for title, sounds, allowed, wanted in bench.sets():
        bench.row(title, sounds, allowed, wanted)
    bench.dictation()
    bench.speed()
    return 0


class _Bench:
    def __init__(self, dev: bool, every: int, threads: int) -> None:
        self._dev, self._every = dev, every
        self._engine = SpeechRecogniser(threads=threads)
        self._texts = dict(_transcripts())
        self._took: list[tuple[float, float]] = []

    def sets(self):
        working = Allowed("", frozenset(ENGLISH.phrases) - {"confirm", "reject"})
        number = AskedReading("r", "Reading", None, 2)
        asked = Allowed("", working.actions, number)
        numbers = self._numbers()
        yield "spoken numbers (human)", numbers, asked, "reading"
        voices = DEV_VOICES if self._dev else SCORE_VOICES
        yield (
            f"numbers ({len(voices)} synthetic voices)",
            _spoken(voices, [(_in_words(v), v) for v in _values(self._dev)[::2]]),
            asked,
            "reading",
        )
        phrases = [(ps[0], a) for a, ps in ENGLISH.phrases.items()]
        yield f"commands ({len(voices)} synthetic voices)", _spoken(voices, phrases), working, ""
        yield "other talk (human), no value asked", self._talk(), working, None
        yield "other talk (human), a value asked", self._talk(), asked, None
        yield (
            "other talk (synthetic), no value asked",
            _spoken(voices[:3], [(t, None) for t in TALK[self._dev :: 2]]),
            working,
            None,
        )

    def row(self, title, sounds, allowed, wanted) -> None:
        sounds = list(sounds)[:: self._every]
        cells = []
        for snr in SNRS:
            counts: Counter[str] = Counter()
            for key, (sound, truth) in enumerate(sounds):
                counts[self._judge(_noisy(sound, snr, key, self._dev), allowed, truth, wanted)] += 1
            n = len(sounds)
            cells.append(
                f"{counts['right'] / n:.2f} right {counts['wrong'] / n:.3f} wrong"
                if wanted is not None
                else f"{counts['wrong'] / n:.3f} taken"
            )
        print(f"{title + f' n={len(sounds)}':44}" + "".join(f"{c:>22}" for c in cells), flush=True)

    def _judge(self, sound, allowed, truth, wanted) -> str:
        """Right, wrong or refused: what is understood of all that the endpointer finds."""
        found = []
        waiting = wanted == ""
        for samples in _utterances(sound):
            began = time.perf_counter()
            text = self._engine.hear(
                samples, phrases_for(allowed, waiting), _value_of(allowed, ENGLISH)
            )
            self._took.append((len(samples) / RATE, time.perf_counter() - began))
            said = understand(text, allowed, waiting)
            if isinstance(said, Said):
                found.append(said.value if said.action == "reading" else said.action)
        if not found:
            return "refused"
        return "right" if found == [truth] else "wrong"

    def dictation(self) -> None:
        chosen = [
            (n, t)
            for n, t in self._texts.items()
            if len(t.split()) >= 4
            and _half(n) == self._dev
            and re.fullmatch(r"[A-Za-z ,.'?!-]+", t)
        ][:: self._every][:80]
        cells = []
        for snr in SNRS:
            wrong = words = 0
            for key, (name, text) in enumerate(chosen):
                heard = " ".join(
                    self._engine.write(s)
                    for s in _utterances(_noisy(_g722(name), snr, key, self._dev))
                )
                reference = _bare(text)
                wrong += _distance(reference, _bare(heard))
                words += len(reference)
            cells.append(f"{wrong / words:.3f} WER")
        print(f"{f'dictation (human) n={len(chosen)}':44}" + "".join(f"{c:>22}" for c in cells))

    def speed(self) -> None:
        took = np.array([t for _, t in self._took])
        sound = sum(s for s, _ in self._took)
        quiet = np.random.default_rng(1).normal(0, 30, 30 * RATE).astype(np.int16)
        ends, began = Endpointer(), time.process_time()
        for start in range(0, len(quiet), 320):
            ends.feed(quiet[start : start + 320])
        idle = (time.process_time() - began) / 30
        print(
            f"recognising: median {np.median(took):.2f} s, 95th percentile "
            f"{np.percentile(took, 95):.2f} s, {took.sum() / sound:.2f} s for 1 s of speech; "
            f"before it 0.30 s of quiet for a phrase, 0.80 s for a value"
        )
        print(f"listening while nobody speaks: {100 * idle:.1f} percent of one core")

    def _numbers(self):
        for value in _values(self._dev):
            if "." in value:
                continue  # the speaker has no "point"
            yield _joined([_g722(f"digits/{n}") for n in _prompts(value)]), value
        for n in range(20):  # single words, as recorded: half for each set
            if n % 2 == self._dev:
                yield _g722(f"digits/{n}"), str(n)

    def _talk(self):
        names = [
            n
            for n, t in self._texts.items()
            if _half(n) == self._dev
            and not n.startswith(("digits/", "phonetic/", "silence"))
            and re.search("[a-z]", t)
        ]
        return [(_g722(name), None) for name in sorted(names)[:300]]


def _values(dev: bool) -> list[str]:
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


def _in_words(value: str) -> str:
    whole, _, fraction = value.partition(".")
    return _cardinal(int(whole)) + (
        " point " + " ".join(ONES[int(d)] for d in fraction) if fraction else ""
    )


def _cardinal(n: int) -> str:
    names = {v: w for table in (ENGLISH.small, ENGLISH.tens) for w, v in table.items()}
    if n < 10:
        return ONES[n]
    if n in names:
        return names[n]
    if n < 100:
        return f"{names[n // 10 * 10]} {ONES[n % 10]}"
    size, name = (1000, "thousand") if n >= 1000 else (100, "hundred")
    rest = f" {'and ' if size == 100 or n % size < 100 else ''}{_cardinal(n % size)}"
    return f"{_cardinal(n // size)} {name}" + (rest if n % size else "")


def _prompts(value: str) -> list[str]:
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


def _spoken(voices, texts):
    for voice in voices:
        for text, truth in texts:
            yield _say(voice, text), truth


def _say(voice: tuple[str, str], text: str) -> np.ndarray:
    import soundfile
    import soxr

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        command = (
            ["espeak-ng", "-v", voice[1], "-s", "150", "-w", path, text]
            if voice[0] == "espeak"
            else ["flite", "-voice", voice[1], "-t", text, "-o", path]
        )
        subprocess.run(command, check=True, capture_output=True, timeout=60)
        sound, rate = soundfile.read(path, dtype="float32")
    return soxr.resample(sound, rate, RATE)


def _g722(name: str) -> np.ndarray:
    import av

    with av.open(str(SOUNDS / f"{name}.g722"), format="g722") as file:
        frames = [f.to_ndarray().reshape(-1) for f in file.decode(audio=0)]
    return np.concatenate(frames).astype(np.float32) / 32768


def _joined(words: list[np.ndarray]) -> np.ndarray:
    """Recorded words in a row, with a breath of 60 ms between them."""
    breath = np.zeros(int(0.06 * RATE), np.float32)
    trimmed = []
    for word in words:
        loud = np.flatnonzero(np.abs(word) > 0.01)
        trimmed += [word[loud[0] : loud[-1] + 1] if len(loud) else word, breath]
    return np.concatenate(trimmed)


def _noisy(sound: np.ndarray, snr: int | None, key: int, dev: bool) -> np.ndarray:
    """One second of the place before and after; the level is that of speech at the mouth."""
    loud = sound[np.abs(sound) > 0.01]
    sound = sound * (0.08 / max(1e-6, float(np.sqrt(np.mean(loud**2))) if len(loud) else 1))
    sound = np.concatenate([np.zeros(RATE), sound, np.zeros(int(1.2 * RATE))])
    chance = np.random.default_rng(zlib.crc32(f"{key} {dev}".encode()))
    noise = _workshop(len(sound), chance, key % 3)
    level = 0.0003 if snr is None else 0.08 / 10 ** (snr / 20)
    noise *= level / np.sqrt(np.mean(noise**2))
    return np.clip((sound + noise) * 32767, -32768, 32767).astype(np.int16)


def _workshop(n: int, chance: np.random.Generator, kind: int) -> np.ndarray:
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


def _utterances(sound: np.ndarray) -> list[np.ndarray]:
    ends = Endpointer()
    found = [
        u for start in range(0, len(sound), 320) for u in ends.feed(sound[start : start + 320])
    ]
    return [u.samples for u in found + ends.flush() if u.kind != "pause"]


def _transcripts():
    for line in gzip.decompress(TEXTS.read_bytes()).decode("utf-8").splitlines():
        name, colon, text = line.partition(":")
        if colon and not line.startswith(";") and (SOUNDS / f"{name}.g722").exists():
            yield name, text.strip()


def _half(name: str) -> bool:
    return zlib.crc32(name.encode()) % 2 == 0


def _bare(text: str) -> list[str]:
    return re.findall(r"[a-z']+", text.lower().replace("-", " "))


def _distance(wanted: list[str], heard: list[str]) -> int:
    row = list(range(len(heard) + 1))
    for i, word in enumerate(wanted, 1):
        before, row[0] = row[0], i
        for j, other in enumerate(heard, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (word != other))
    return row[-1]


def _name(snr: int | None) -> str:
    return "clean" if snr is None else f"{snr} dB"


def _missing() -> str:
    packages = [
        name
        for name, there in (
            ("asterisk-core-sounds-en-g722", SOUNDS.exists()),
            ("asterisk-core-sounds-en", TEXTS.exists()),
            ("espeak-ng", shutil.which("espeak-ng")),
            ("flite", shutil.which("flite")),
        )
        if not there
    ]
    modules = []
    for name in ("av", "onnxruntime", "moonshine_voice"):
        try:
            if name != "moonshine_voice":
                __import__(name)
        except ImportError:
            modules.append(name)
    words = ["apt-get install " + " ".join(packages)] if packages else []
    return "; ".join(words + (["pip install av 'evidence-app[voice]'"] if modules else []))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
