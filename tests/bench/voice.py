"""How well spoken numbers, commands and dictation are understood, and how fast.

    python -m tests.bench voice [--dev] [--quick] [--threads N]

Human speech: the prompts of Debian's asterisk-core-sounds-en-g722 with their transcripts
(one speaker), decoded by PyAV. Synthetic voices: espeak-ng and flite. Noise is generated:
hum, hiss, a grinder's howl and knocks. Thresholds were set with --dev only; what is
scored without it uses other numbers, voices, talk and noise. (The spoken numbers are rows
of recorded words: the two sets have no number in common, but the words are the same.) Needs, installed once:

    apt-get install asterisk-core-sounds-en-g722 asterisk-core-sounds-en espeak-ng flite
    pip install av 'evidence-app[voice]'
"""

from __future__ import annotations

import argparse
import contextlib
import importlib.util
import queue
import re
import shutil
import sys
import time
import zlib
from collections import Counter

import numpy as np

from evidence_app.voice.understanding.endpoint import Endpointer
from evidence_app.voice.understanding.grammar import (
    Allowed,
    AskedReading,
    Said,
    phrases_for,
    understand,
)
from evidence_app.voice.understanding.listener import Listener, value_reader
from evidence_app.voice.understanding.recogniser import SpeechRecogniser
from evidence_app.voice.understanding.words import ENGLISH
from tests.bench._voice_sounds import (
    RATE,
    SOUNDS,
    TEXTS,
    g722,
    in_words,
    joined,
    noisy,
    prompts,
    say,
    spoken,
    transcripts,
    values,
)

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
    bench.delay()
    return 0


class _Bench:
    def __init__(self, dev: bool, every: int, threads: int) -> None:
        self._dev, self._every = dev, every
        self._engine = SpeechRecogniser(threads=threads)
        self._texts = dict(transcripts())
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
            spoken(voices, [(in_words(v), v) for v in values(self._dev)[::6]]),
            asked,
            "reading",
        )
        phrases = [(ps[0], a) for a, ps in ENGLISH.phrases.items()]
        yield f"commands ({len(voices)} synthetic voices)", spoken(voices, phrases), working, ""
        yield "other talk (human), no value asked", self._talk(), working, None
        yield "other talk (human), a value asked", self._talk(), asked, None
        yield (
            "other talk (synthetic), no value asked",
            spoken(voices[:3], [(t, None) for t in TALK[self._dev :: 2]]),
            working,
            None,
        )

    def row(self, title, sounds, allowed, wanted) -> None:
        sounds = list(sounds)[:: self._every]
        cells = []
        for snr in SNRS:
            counts: Counter[str] = Counter()
            for key, (sound, truth) in enumerate(sounds):
                counts[self._judge(noisy(sound, snr, key, self._dev), allowed, truth, wanted)] += 1
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
                samples, phrases_for(allowed, waiting), value_reader(allowed, ENGLISH)
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
                    for s in _utterances(noisy(g722(name), snr, key, self._dev))
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
            f"before it 0.24 s of quiet for a phrase, 0.80 s for a value"
        )
        print(f"listening while nobody speaks: {100 * idle:.1f} percent of one core")

    def delay(self) -> None:
        """From the end of speech to the answer, in real time, with noise at 20 dB."""
        told: queue.Queue = queue.Queue()
        allowed = Allowed("", frozenset(ENGLISH.phrases) - {"confirm", "reject"})
        listener = Listener(
            self._engine, lambda: allowed, lambda answer: told.put(time.monotonic())
        )
        listener.start()
        delays = []
        said = [ps[0] for action, ps in ENGLISH.phrases.items() if action in allowed.actions]
        for key, phrase in enumerate(said):
            sound = say((("flite", "slt"), ("espeak", "en-us"))[key % 2], phrase)
            ended = 1 + float(np.flatnonzero(np.abs(sound) > 0.01)[-1]) / RATE
            began = time.monotonic()
            placed = noisy(sound, 20, key, self._dev)
            for start in range(0, len(placed), 320):
                listener.feed(placed[start : start + 320])
                time.sleep(max(0, began + (start + 320) / RATE - time.monotonic()))
            with contextlib.suppress(queue.Empty):
                delays.append(told.get(timeout=2) - began - ended)
            while not told.empty():
                told.get()
        listener.stop()
        print(
            f"end of speech to answer: median {np.median(delays):.2f} s, 95th percentile "
            f"{np.percentile(delays, 95):.2f} s, {len(delays)} of {len(said)} answered"
        )

    def _numbers(self):
        for value in values(self._dev):
            if "." in value:
                continue  # the speaker has no "point"
            yield joined([g722(f"digits/{n}") for n in prompts(value)]), value
        for n in range(20):  # single words, as recorded: half for each set
            if n % 2 == self._dev:
                yield g722(f"digits/{n}"), str(n)

    def _talk(self):
        names = [
            n
            for n, t in self._texts.items()
            if _half(n) == self._dev
            and not n.startswith(("digits/", "phonetic/", "silence"))
            and re.search("[a-z]", t)
        ]
        return [(g722(name), None) for name in sorted(names)[:300]]


def _utterances(sound: np.ndarray) -> list[np.ndarray]:
    ends = Endpointer()
    found = [
        u for start in range(0, len(sound), 320) for u in ends.feed(sound[start : start + 320])
    ]
    return [u.samples for u in found + ends.flush() if u.kind != "pause"]


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
    modules = [
        name
        for name in ("av", "onnxruntime", "moonshine_voice")
        if importlib.util.find_spec(name) is None
    ]
    words = ["apt-get install " + " ".join(packages)] if packages else []
    return "; ".join(words + (["pip install av 'evidence-app[voice]'"] if modules else []))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
