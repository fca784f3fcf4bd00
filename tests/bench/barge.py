"""How well a stop is heard while the app reads aloud, in simulated rooms.

    python -m tests.bench barge [--dev] [--stops N] [--prompts N] [--rows WORD,…]

The real canceller, detector, listener and speech model; a simulated loudspeaker, room and
microphone (_barge_rooms.py). The app reads the instructions and cautions of the sample
step lists. A stop is said at a random moment of a prompt, once the cancelling is armed;
what was not heard is said again at once, a sixth slower.
"""

from __future__ import annotations

import argparse
import contextlib
import shutil
import sys
import time
import zlib
from collections import Counter

import numpy as np

from evidence_app.voice.interrupting.canceller import Canceller
from evidence_app.voice.interrupting.loudspeaker import Loudspeaker
from evidence_app.voice.interrupting.yielding import Yielding
from evidence_app.voice.prompts import GAP_S, _sentences
from evidence_app.voice.understanding.grammar import STOP, Allowed
from evidence_app.voice.understanding.listener import AFTER_SPEAKING_S, Listener
from evidence_app.voice.understanding.recogniser import SpeechRecogniser
from evidence_app.voice.understanding.words import ENGLISH
from tests.bench._answers import STOPS
from tests.bench._barge_rooms import BLOCK, DEV_ROOMS, OWN, SCORE_ROOMS, Room, as_loud
from tests.bench._figures import key_of, told
from tests.bench._voice_sounds import RATE, say
from tests.bench.voice import DEV_VOICES, SCORE_VOICES, _read_aloud

_SENTENCES = 5  # of a prompt
_HEARD_WITHIN_S = 3.5  # after the end of a saying
_LATENCY = 3  # blocks between the loudspeaker's buffer and its sound
_EACH = 10  # stops in one room


def main(argv: list[str]) -> int:
    options = argparse.ArgumentParser(prog="tests.bench barge")
    options.add_argument("--dev", action="store_true", help="the rooms and voices that limits are set on")
    options.add_argument("--stops", type=int, default=80)
    options.add_argument("--prompts", type=int, default=40)
    options.add_argument("--rows", default="")
    chosen = options.parse_args(argv)
    missing = [name for name in ("espeak-ng", "flite") if not shutil.which(name)]
    if missing:
        print("not measured; install first:", *missing, file=sys.stderr)
        return 2
    bench = _Bench(chosen.dev, chosen.stops, chosen.prompts)
    wanted = [word for word in chosen.rows.split(",") if word]
    for title, measure in bench.rows():
        if not wanted or any(word in title for word in wanted):
            said, figures = measure()
            print(f"{title}: {said}", flush=True)
            for name, value, n in figures:
                told(f"{key_of(title)}-{name}", value, "", n)
    return 0


class _Bench:
    def __init__(self, dev: bool, stops: int, prompts: int) -> None:
        self._engine = SpeechRecogniser()
        self._rooms = DEV_ROOMS if dev else SCORE_ROOMS
        self._voices = DEV_VOICES if dev else SCORE_VOICES
        self._stops, self._prompts = stops, prompts
        read = [s for text in _read_aloud() for s in _sentences(text)]
        self._read = [s for s in read if _half(s) == dev]

    def rows(self):
        yield "stops with nothing read", lambda: self._stops_heard(None)
        yield "stops with nothing read, noise 20 dB", lambda: self._stops_heard(None, noise_db=20)
        for db in (0, 10):
            yield f"stops, echo {db:+} dB", lambda db=db: self._stops_heard(db)
        yield "stops, echo +0 dB, noise 20 dB", lambda: self._stops_heard(0, noise_db=20)
        for db in (0, 10):
            yield f"nobody, echo {db:+} dB", lambda db=db: self._nobody(db)
        yield "nobody, echo +0 dB, noise 20 dB", lambda: self._nobody(0, noise_db=20)
        for db in (0, 10):
            yield f"nobody, drift 100 ppm, echo {db:+} dB", lambda db=db: self._nobody(db, drift_ppm=100)
            yield f"nobody, jumps 30 ms, echo {db:+} dB", lambda db=db: self._nobody(db, jump_s=0.03)
        yield "stops, drift 100 ppm, echo +0 dB", lambda: self._stops_heard(0, drift_ppm=100)

    def _stops_heard(self, echo_db: float | None, **room) -> tuple[str, list]:
        counts: Counter[str] = Counter()
        armed_after = []
        for key in range(self._stops):
            if key % _EACH == 0:
                session = self._session(key // _EACH, echo_db or 0, **room)
                if echo_db is not None:
                    armed_after.append(session.warm(self._prompt))
            voice = self._voices[key % len(self._voices)]
            text = STOPS[(key + key // len(self._voices)) % len(STOPS)]
            prompt = self._prompt(session.room.chance) if echo_db is not None else []
            heard = session.stop(prompt, say(voice, text), say(voice, text, True))
            counts[heard] += 1
            if heard == "missed":
                counts[f"“{text}”"] += 1
            if key % _EACH == _EACH - 1:
                counts["pauses"] += session.pauses
                counts["other"] += len(
                    [a for a in session.told if a.action != STOP and a.kind in ("do", "ask")]
                )
                session.end()
        n = self._stops
        first, second = counts.pop("1st", 0), counts.pop("2nd", 0)
        said = (
            f"n={n}, 1st {first / n:.2f}, 1st or 2nd {(first + second) / n:.2f}; "
            f"{dict(counts)}; armed after {[f'{s:.0f}' for s in armed_after]} s of speech"
        )
        return said, [("first", first / n, n), ("first-or-second", (first + second) / n, n)]

    def _nobody(self, echo_db: float, jump_s: float = 0, **room) -> tuple[str, list]:
        pauses = stops = acted = sentences = armed = blocks = 0
        for key in range(0, self._prompts, 5):
            session = self._session(50 + key // 5, echo_db, **room)
            session.warm(self._prompt, most=30)
            for _ in range(5):
                prompt = self._prompt(session.room.chance)
                session.read(prompt, jump_s)
                sentences += len(prompt)
            session.end()
            pauses += session.pauses
            acted += len([a for a in session.told if a.kind in ("do", "ask")])
            stops += len([a for a in session.told if a.action == STOP])
            armed += session.armed_blocks
            blocks += session.blocks
        said = (
            f"{self._prompts} prompts, {sentences} sentences: {pauses} false pauses, {stops} false "
            f"stops, {acted} false commands; armed {armed / blocks:.0%} of the time"
        )
        return said, [
            ("pauses", pauses, sentences),
            ("stops", stops, sentences),
            ("commands", acted, sentences),
        ]

    def _session(self, place: int, echo_db: float, **room) -> _Session:
        return _Session(self._engine, Room(self._rooms[place], echo_db, **room))

    def _prompt(self, chance) -> list[np.ndarray]:
        first = int(chance.integers(len(self._read) - _SENTENCES))
        return [_own(text) for text in self._read[first : first + _SENTENCES]]


class _Session:
    """The app reads in one room; block by block, as fast as the machine can."""

    def __init__(self, engine, room: Room) -> None:
        self.room = room
        self.told: list = []
        self.pauses = self._fed = self.armed_blocks = self.blocks = 0
        self._loudspeaker = Loudspeaker()
        self._loudspeaker.open = True
        self._canceller = Canceller()
        self._delayed = [np.zeros(BLOCK, np.int16)] * _LATENCY
        self._listener = Listener(
            engine,
            lambda: Allowed("", frozenset(ENGLISH.phrases)),
            self.told.append,
            now_s=lambda: self._fed / RATE,
            yielding=Yielding(self._canceller, self._loudspeaker),
        )
        self._listener.start()
        self._pass(1.0)

    def end(self) -> None:
        self._listener.stop()

    def warm(self, prompt, most: float = 60) -> float:
        """Read until it is armed; after how many seconds of speech."""
        spoken = 0.0
        while spoken < most:
            for sentence in prompt(self.room.chance):
                began = self._fed
                self.read([sentence])
                spoken += (self._fed - began) / RATE - GAP_S - AFTER_SPEAKING_S
                if self._canceller.armed:
                    return spoken
        return spoken

    def read(self, prompt, jump_s: float = 0.0) -> None:
        self._begin(prompt)
        jumps_at = self._fed + int(self.room.chance.uniform(0.2, 0.8) * sum(map(len, prompt)))
        while self._reading:
            if jump_s and self._fed >= jumps_at:
                self.room.jumps(jump_s)
                jump_s = 0
            self._step()

    def stop(self, prompt, sound: np.ndarray, slower: np.ndarray) -> str:
        """A stop is said while ``prompt`` is read: heard at the 1st or 2nd saying, or missed."""
        self._begin(prompt)
        speaking = sum(map(len, prompt)) / RATE + (GAP_S + AFTER_SPEAKING_S) * max(0, len(prompt) - 1)
        self._pass(self.room.chance.uniform(0.5, max(1.0, speaking - 6.0)))
        result = "missed"
        for name, said in (("1st", sound), ("2nd", slower)):
            before = len(self.told)
            until = self._fed / RATE + self.room.says(_trimmed(said)) + _HEARD_WITHIN_S
            while self._fed / RATE < until and result == "missed":
                self._step()
                if any(a.action == STOP and a.kind == "ask" for a in self.told[before:]):
                    result = name
            if result != "missed":
                break
        self._hush()
        self._listener.answered()
        self._pass(2.0)
        return result

    # --- what the app's voice does (voice/prompts.py), without its thread -----------------

    def _begin(self, prompt) -> None:
        self._sentences = list(prompt)
        self._quiet_until = self._resumes_at = 0
        self._speaking = False
        self._answered = len(self.told)

    @property
    def _reading(self) -> bool:
        return bool(self._sentences) or self._speaking or self._fed < self._quiet_until

    def _hush(self) -> None:
        self._sentences = []
        self._loudspeaker.play(np.zeros(0, np.int16))

    def _voice(self) -> None:
        loudspeaker = self._loudspeaker
        if loudspeaker.paused:
            if not self._resumes_at:
                self.pauses += 1
                self._resumes_at = self._fed + int((GAP_S + AFTER_SPEAKING_S) * RATE)
            elif self._fed >= self._resumes_at and not self._listener.busy:
                self._resumes_at = 0
                loudspeaker.paused = False
        elif self._speaking and not loudspeaker.busy:
            self._speaking = False
            self._listener.app_speaks(False)
            self._quiet_until = self._fed + int((GAP_S + AFTER_SPEAKING_S) * RATE)
        elif (
            self._sentences
            and not self._speaking
            and self._fed >= self._quiet_until
            and not self._listener.busy
        ):
            self._speaking = True
            self._listener.app_speaks(True)
            loudspeaker.play(self._sentences.pop(0))

    def _step(self) -> None:
        self._voice()
        played = self._loudspeaker.pull(BLOCK)
        self._delayed.append(played)
        self._listener.feed(self.room.hears(self._delayed.pop(0)), played)
        self._fed += BLOCK
        self.blocks += 1
        self.armed_blocks += self._canceller.armed
        while self._listener._waiting.unfinished_tasks:
            time.sleep(0.001)
        if any(a.kind not in ("unheard", "lapsed") for a in self.told[self._answered :]):
            self._hush()
        self._answered = len(self.told)

    def _pass(self, seconds: float) -> None:
        if not hasattr(self, "_sentences"):
            self._begin([])
        for _ in range(int(seconds * RATE / BLOCK)):
            self._step()


def _own(text: str) -> np.ndarray:
    return np.clip(as_loud(say(("espeak", "en"), text), OWN), -32768, 32767).astype(np.int16)


def _trimmed(sound: np.ndarray) -> np.ndarray:
    loud = np.flatnonzero(np.abs(sound) > 0.01)
    return sound[loud[0] : loud[-1] + 1]


def _half(text: str) -> bool:
    return zlib.crc32(text.encode()) % 3 != 0


if __name__ == "__main__":
    with contextlib.suppress(KeyboardInterrupt):
        sys.exit(main(sys.argv[1:]))
