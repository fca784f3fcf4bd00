"""How well spoken numbers, commands and dictation are understood, and how fast.

    python -m tests.bench voice [--dev] [--every N] [--threads N] [--rows WORD,…]

Human speech: the prompts of Debian's asterisk-core-sounds-en-g722 with their transcripts
(one speaker), decoded by PyAV. Synthetic voices: espeak-ng and flite. Noise is generated:
hum, hiss, a grinder's howl and knocks. Thresholds were set with --dev only; what is
scored without it uses other numbers, voices, talk, answers and noise (_voice_sounds.py and
_answers.py hold both sets). The spoken numbers of the human speaker are rows of recorded
words: the two sets have no number in common, but the words are the same. Made sounds are
kept in the folder that EVIDENCE_BENCH_SOUNDS names, when it is set. Needs, installed once:

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
from collections.abc import Iterable

import numpy as np
from msgspec import Struct

from evidence_app.locations import sample
from evidence_app.steplist.load import load
from evidence_app.voice.prompts import _sentences
from evidence_app.voice.understanding.endpoint import Endpointer
from evidence_app.voice.understanding.grammar import (
    CONFIRM,
    NEAR_STOP,
    STOP,
    Allowed,
    AskedReading,
    Said,
    phrases_for,
    understand,
)
from evidence_app.voice.understanding.listener import Listener
from evidence_app.voice.understanding.recogniser import SpeechRecogniser
from evidence_app.voice.understanding.words import ENGLISH, PLAIN
from tests.bench import _hands_free
from tests.bench._answers import DENIALS, DEV_DENIALS, DEV_NO_STOP, DEV_YES, NO_STOP, STOPS, YES
from tests.bench._figures import key_of, told
from tests.bench._voice_sounds import (
    DECIMALS,
    DEV_DECIMALS,
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

SNRS = (None, 20, 10)
DEV_VOICES = [
    ("espeak", "en-us"),
    ("espeak", "en-us+f3"),
    ("espeak", "en-gb-scotland+m3"),
    ("flite", "awb"),
    ("espeak", "en-gb-scotland"),
    ("espeak", "en-us+m2"),
    ("espeak", "en-029+f1"),
    ("espeak", "en-gb-x-gbclan+m3"),
    ("espeak", "en-gb+m5"),
    ("espeak", "en-gb-x-rp+f2"),
    ("espeak", "en-us+m4"),
    ("espeak", "en-gb+f4"),
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
_SECOND_WITHIN = 2  # of the next sounds: some ten seconds of talk
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
    options.add_argument("--every", type=int, default=1, help="only every Nth of each set")
    options.add_argument("--threads", type=int, default=1)
    options.add_argument("--rows", default="", help="only those whose title has one of these")
    chosen = options.parse_args(argv)
    missing = _missing()
    if missing:
        print("not measured; install first:", missing, file=sys.stderr)
        return 2
    bench = _Bench(chosen.dev, chosen.every, chosen.threads)
    wanted = [word for word in chosen.rows.split(",") if word]
    print(f"{'development' if chosen.dev else 'scoring'} set, {chosen.threads} thread(s)")
    print(f"{'':52}" + "".join(f"{_name(snr):>40}" for snr in SNRS))
    for row in bench.rows():
        if not wanted or any(word in row.title for word in wanted):
            bench.show(row)
    if "own speech" in wanted:
        bench.own_speech()
    if not wanted:
        bench.dictation()
        bench.own_speech()
        bench.speed()
        bench.delay()
    return 0


class _Row(Struct):
    """``sounds`` yields (sound, truth), with what is open where that is its own; the truth is an action, a value, ``CONFIRM``, or None
    where nothing may be taken. ``taken``: only whether something was."""

    title: str
    sounds: Iterable
    allowed: Allowed
    question: str | None = None
    taken: bool = False
    only: str | None = None  # of what is taken, this alone counts
    radio: bool = False
    again: Iterable = ()  # the sounds said once more, for those that nothing came of


class _Bench:
    def __init__(self, dev: bool, every: int, threads: int) -> None:
        self._dev, self._every = dev, every
        self._engine = SpeechRecogniser(threads=threads)
        self._texts = dict(transcripts())
        self._took: list[tuple[float, float]] = []

    def rows(self):
        working = Allowed("", frozenset(ENGLISH.phrases) - {"unmute", "wait"})
        number = AskedReading("r", "Reading", None, 2)
        asked = Allowed("", working.actions, number)
        gap = Allowed("", working.actions, AskedReading("g", "Gap", "mm", 2))
        voices = DEV_VOICES if self._dev else SCORE_VOICES
        yes, no = (DEV_YES, DEV_DENIALS) if self._dev else (YES, DENIALS)
        for question in yes:
            place = gap if question == PLAIN else working
            yield _Row(
                f"denials taken for a yes ({question} asked)",
                spoken(voices, [(t, None) for t in no]),
                place,
                question,
                True,
                CONFIRM,
                again=spoken(voices, [(t, None) for t in no], again=True),
            )
            yield _Row(
                f"yes ({question} asked)",
                spoken(voices, [(t, CONFIRM) for t in yes[question]]),
                place,
                question,
                again=spoken(voices, [(t, CONFIRM) for t in yes[question]], again=True),
            )
        phrases = [(ps[0], a) for a, ps in ENGLISH.phrases.items() if a in working.actions]
        opposites = [
            (f"{before} {phrase}", None)
            for place, (phrase, _) in enumerate(phrases)
            for before in ("do not", "don't", "not the", "never")[place % 2 :: 2]
        ]
        yield _Row("opposites of commands", spoken(voices, opposites), working, None, True)
        for title, wordings in ("stops", [t for t in STOPS if t != "halt"]), ("stop: halt", ["halt"]):
            stops = [(t, STOP) for t in wordings]
            yield _Row(title, spoken(voices, stops), working, again=spoken(voices, stops, again=True))
        none = [(t, None) for t in (DEV_NO_STOP if self._dev else NO_STOP)]
        no_stops = spoken(voices, none), working, None, True, STOP
        yield _Row("a stop denied", *no_stops, again=spoken(voices, none, again=True))
        yield _Row("commands", spoken(voices, phrases), working)
        yield _Row("commands, radio 12 dB below", spoken(voices, phrases), working, radio=True)
        decimals = DEV_DECIMALS if self._dev else DECIMALS
        yield _Row("decimals (synthetic)", spoken(voices, decimals), gap)
        whole = [(in_words(v), v) for v in values(self._dev)[::6] if "." not in v]
        yield _Row("whole numbers (synthetic)", spoken(voices, whole), asked)
        yield _Row("whole numbers (human)", self._numbers(), asked)
        yield _Row("decimals with “dot” (human)", self._dotted(), asked)
        yield from _hands_free.rows(_Row, self._dev, voices, self._talk()[::8], working.actions)
        talk = [(t, None) for t in TALK[self._dev :: 2]]
        yield _Row("other talk (human)", self._talk(), working, None, True)
        yield _Row("other talk (human), a value asked", self._talk(), asked, None, True)
        yield _Row("other talk (human), a yes awaited", self._talk(), gap, PLAIN, True, CONFIRM)
        yield _Row("other talk (synthetic)", spoken(voices[:3], talk), working, None, True)

    def show(self, row: _Row) -> None:
        sounds = list(row.sounds)[:: self._every]
        again = list(row.again)[:: self._every]
        cells = []
        for snr in SNRS:
            counts: Counter[str] = Counter()
            self._stop_until = -1
            for key, (sound, truth, *own) in enumerate(sounds):
                self._at = key
                if again:  # what another voice said before is no first saying
                    self._stop_until = -1
                placed = noisy(sound, snr, key, self._dev)
                row.allowed = own[0] if own else row.allowed
                if row.radio:
                    placed = self._with_radio(placed, key)
                counts[first := self._judge(placed, row, truth)] += 1
                if again and first == "refused":
                    placed = noisy(again[key][0], snr, key + len(sounds), self._dev)
                    counts[f"then {self._judge(placed, row, truth)}"] += 1
            n = len(sounds)
            for kind in ("wrong",) if row.taken else ("right", "wrong"):
                told(f"{key_of(row.title)}-{key_of(_name(snr))}-{kind}", counts[kind] / n, "", n)
            then = [counts[kind] + counts[f"then {kind}"] for kind in ("right", "wrong")]
            cell = (
                f"{counts['wrong']} of {n} taken"
                if row.taken
                else f"{counts['right'] / n:.2f} right {counts['wrong'] / n:.3f} wrong"
            )
            twice = f", then {then[1]}" if row.taken else f", then {then[0] / n:.2f} {then[1] / n:.3f}"
            cells.append(cell + twice * bool(again))
        title = f"{row.title} n={len(sounds)}"
        print(f"{title:52}" + "".join(f"{c:>40}" for c in cells), flush=True)

    def _judge(self, sound, row: _Row, truth) -> str:
        """Right, wrong, denied (a no, after which nothing is asked any more) or refused: what
        is understood of all that the endpointer finds. What may be a stop is one the second time."""
        found, denied = [], False
        for samples in _utterances(sound):
            began = time.perf_counter()
            phrases = phrases_for(row.allowed, row.question)
            text = self._engine.hear(samples, phrases, row.allowed.reading)
            self._took.append((len(samples) / RATE, time.perf_counter() - began))
            said = understand(text, row.allowed, row.question)
            denied |= isinstance(said, Said) and said.action == "reject"
            if isinstance(said, Said) and said.action == NEAR_STOP:
                found += [STOP] * (self._at <= self._stop_until)
                self._stop_until = self._at + _SECOND_WITHIN
            elif isinstance(said, Said) and said.action not in ("unsure", "reject"):
                found.append(said.value if said.action == "reading" else said.action)
        if row.only is not None:
            found = [row.only] if row.only in found else []
        if not found:
            return "denied" if denied else "refused"
        return "right" if found == [truth] else "wrong"

    def _with_radio(self, sound: np.ndarray, key: int) -> np.ndarray:
        """Other people's talk all the time, 12 dB below the speaker at the mouth."""
        talk = self._talk()
        radio = np.concatenate([talk[(key * 7 + n) % len(talk)][0] for n in range(4)])
        radio = np.resize(radio, len(sound))
        loud = radio[np.abs(radio) > 0.01]
        level = 0.08 / 10 ** (12 / 20) / float(np.sqrt(np.mean(loud**2)))
        return np.clip(sound + radio * level * 32767, -32768, 32767).astype(np.int16)

    def dictation(self) -> None:
        chosen = [
            (n, t)
            for n, t in self._texts.items()
            if len(t.split()) >= 4 and _half(n) == self._dev and re.fullmatch(r"[A-Za-z ,.'?!-]+", t)
        ][:: self._every][:80]
        cells = []
        for snr in SNRS:
            wrong = words = 0
            for key, (name, text) in enumerate(chosen):
                heard = " ".join(
                    self._engine.write(s) for s in _utterances(noisy(g722(name), snr, key, self._dev))
                )
                reference = _bare(text)
                wrong += _distance(reference, _bare(heard))
                words += len(reference)
            told(f"dictation-{key_of(_name(snr))}-wrong-words", wrong / words, "", words)
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
        told("recognising", float(np.median(took)), "s", len(took))
        told("listening-to-nothing", 100 * idle, "percent of a core")
        print(
            f"recognising: median {np.median(took):.2f} s, 95th percentile "
            f"{np.percentile(took, 95):.2f} s, {took.sum() / sound:.2f} s for 1 s of speech; "
            f"before it 0.24 s of quiet for a phrase, 0.80 s for a value"
        )
        print(f"listening while nobody speaks: {100 * idle:.1f} percent of one core")

    def own_speech(self) -> None:
        """What the tablet reads aloud, as its own microphone hears it at the level of a voice:
        a room whose sound decays by 60 dB in 0.3 s (ISO 3382-2), a loudspeaker that is 0.1 s
        late. The ears are closed and opened as the voice does it."""
        chance = np.random.default_rng(11)
        room = chance.normal(size=RATE * 3 // 10) * 10 ** (-3 * np.linspace(0, 1, RATE * 3 // 10))
        told, fed = [], 0
        allowed = Allowed("", frozenset(ENGLISH.phrases))
        listener = Listener(self._engine, lambda: allowed, told.append, now_s=lambda: fed / RATE)
        listener.start()
        read = [x for text in _read_aloud() for x in _sentences(text)][:: self._every]
        for sentence in read:
            sound = np.convolve(say(("espeak", "en"), sentence), room)
            sound = np.concatenate([np.zeros(RATE // 10), sound, np.zeros(RATE)])
            sound *= 0.08 / np.sqrt(np.mean(sound[np.abs(sound) > 0.05 * np.abs(sound).max()] ** 2))
            sound += chance.normal(size=len(sound)) * 0.0003
            over = len(sound) - RATE - len(room) - RATE // 10
            placed = np.clip(sound * 32767, -32768, 32767).astype(np.int16)
            listener.app_speaks(True)
            for start in range(0, len(placed), 320):
                if over <= start < over + 320:
                    listener.app_speaks(False)
                listener.feed(placed[start : start + 320])
                fed += 320
        listener.finish()
        listener.stop()
        acted = [a for a in told if a.kind in ("do", "ask")]
        stops = [a for a in acted if a.action == "stop-repair"]
        told("own-speech-commands", len(acted), "", len(read))
        told("own-speech-stops", len(stops), "", len(read))
        print(
            f"own speech: of {len(read)} sentences {len(told)} were taken for an utterance, "
            f"{len(acted)} for a command, {len(stops)} for a stop"
        )

    def delay(self) -> None:
        """From the end of speech to the answer, in real time, with noise at 20 dB."""
        told: queue.Queue = queue.Queue()
        allowed = Allowed("", frozenset(ENGLISH.phrases))
        listener = Listener(self._engine, lambda: allowed, lambda answer: told.put(time.monotonic()))
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
        told("delay", float(np.median(delays)), "s", len(delays))
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

    def _dotted(self):
        """The speaker has no "point" but a "dot"."""
        for value in values(self._dev):
            whole, point, fraction = value.partition(".")
            if point:
                words = [*prompts(whole), "letters/dot", *fraction]
                yield (joined([g722(w if w == "letters/dot" else f"digits/{w}") for w in words]), value)

    def _talk(self):
        names = [
            n
            for n, t in self._texts.items()
            if _half(n) == self._dev
            and not n.startswith(("digits/", "phonetic/", "silence"))
            and re.search("[a-z]", t)
        ]
        return [(g722(name), None) for name in sorted(names)[:300]]


def _read_aloud() -> Iterable[str]:
    """Every instruction and caution of the sample step lists."""
    for name in ("bail-stand-exchange", "window-rebond", "window-rebond-cellular"):
        steps = load(sample(f"ossmere-h7-{name}.toml"))
        yield from (f"{c.signal.value}. {c.hazard}. {c.avoid}." for c in steps.cautions)
        yield from (step.instruction for step in steps.steps)


def _utterances(sound: np.ndarray) -> list[np.ndarray]:
    ends = Endpointer(near=True)
    found = [u for start in range(0, len(sound), 320) for u in ends.feed(sound[start : start + 320])]
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
        name for name in ("av", "onnxruntime", "moonshine_voice") if importlib.util.find_spec(name) is None
    ]
    words = ["apt-get install " + " ".join(packages)] if packages else []
    return "; ".join(words + (["pip install av 'evidence-app[voice]'"] if modules else []))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
