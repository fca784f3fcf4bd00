"""The tablet that listens: from the end of speech to the action, and what listening costs.

    python -m tests.bench listening [--size WxH] [--voices N] [--seconds S]

**Delay**: the tablet runs with the live picture at 25 pictures a second; commands are
spoken by a synthetic voice, with workshop noise at 20 dB, as fast as they are said. It is
counted from the last sound of the speech to the moment when the command is carried out:
for what changes the record, when its event is committed.

**Cost**: the processor time of the whole app at the step's screen, in turn with and without
listening, while nobody speaks; in a quiet room and in a loud workshop. The microphone is
PortAudio's on a PulseAudio sink of its own. Needs, installed once:

    apt-get install espeak-ng flite pulseaudio pulseaudio-utils libportaudio2 xvfb
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.bench._figures import key_of, told
from tests.bench._voice_sounds import RATE, say, workshop

VOICES = (("espeak", "en-gb"), ("flite", "slt"), ("espeak", "en-us"), ("flite", "rms"))
PHRASES = (
    "what is still owed",
    "take the photo",
    "repeat the photo",
    "previous step",
    "next step",
    "read the instruction",
    "take back the last entry",
    "read the cautions",
    "take a photo",
    "name the phrases",
)
_RECORDS = {
    "photo": "photo-taken",
    "back": "step-entered",
    "next": "step-entered",
    "take-back": "taken-back",
}
_PATIENCE_S = 3.0
_SPEECH = 0.08  # RMS of speech at the mouth, of full scale


def main(argv: list[str]) -> int:
    from tests.bench.tablet import _display

    parser = argparse.ArgumentParser(prog="python -m tests.bench listening")
    parser.add_argument("--size", default="1280x800")
    parser.add_argument("--voices", type=int, default=len(VOICES))
    parser.add_argument("--seconds", type=float, default=10, help="of each of eight turns")
    parser.add_argument("--part", choices=("delay", "cost"), help=argparse.SUPPRESS)
    given = parser.parse_args(argv)
    missing = [name for name in ("espeak-ng", "flite", "pulseaudio", "paplay") if not shutil.which(name)]
    if missing:
        print("not measured; install first:", ", ".join(missing), file=sys.stderr)
        return 2
    if given.part:
        work = {"delay": _delay, "cost": _cost}[given.part]
        print(json.dumps(work(tuple(int(part) for part in given.size.split("x")), given)))
        return 0
    server = _display()
    try:
        delays_hold = _report_delay(_apart("delay", given))
        cost_holds = _report_cost(_apart("cost", given))
    finally:
        if server is not None:
            server.terminate()
            server.wait()
    return 0 if delays_hold and cost_holds else 1


def _apart(part: str, given: argparse.Namespace) -> dict:
    """In a process of its own, with a home of its own: its threads and textures end with it."""
    with tempfile.TemporaryDirectory() as home:
        done = subprocess.run(
            [
                sys.executable,
                "-m",
                "tests.bench",
                "listening",
                "--part",
                part,
                "--size",
                given.size,
                "--voices",
                str(given.voices),
                "--seconds",
                str(given.seconds),
            ],
            check=True,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            env={**os.environ, "EVIDENCE_APP_HOME": home},
        )
    return json.loads(done.stdout.splitlines()[-1])


def _report_delay(found: dict) -> bool:
    delays = [delay for _, delay in found["delays"]]
    middle, late = np.median(delays), np.percentile(delays, 95)
    told("delay-median", middle, "s", len(delays))
    told("delay-within", late, "s", len(delays))
    told("commands-done", len(delays), "", found["said"])
    print(f"live picture: {found['pictures_s']:.0f} pictures a second")
    print(
        f"end of speech to action: median {middle:.2f} s (at most 0.5), 95th percentile "
        f"{late:.2f} s (at most 1.0), longest {max(delays):.2f} s, {len(delays)} of "
        f"{found['said']} commands done, the others not understood"
    )
    for action in sorted({action for action, _ in found["delays"]}):
        own = [delay for name, delay in found["delays"] if name == action]
        print(f"  {action:<16} median {np.median(own):.2f} s, n={len(own)}")
    return middle <= 0.5 and late <= 1.0


def _report_cost(found: dict) -> bool:
    for place, (off, on, threads) in found.items():
        key = key_of(place)
        told(f"cost-{key}", 100 * (on - off), "percent of a core")
        print(
            f"{place}: the app takes {off:.1%} of one core without listening and {on:.1%} with "
            f"it: {on - off:.1%} for listening (at most 15 %); the threads that came with "
            f"it took {threads:.1%}"
        )
    return all(on - off <= 0.15 for off, on, _ in found.values())


# --- the delay -------------------------------------------------------------------------------


def _delay(size: tuple[int, int], given: argparse.Namespace) -> dict:
    from kivy.base import EventLoop

    mouth = _mouth()
    driver = _driver(size, "paced:")
    said, delays, pictures = 0, [], []
    actions: list[tuple[str, float]] = []
    inner = driver.root.by_voice.do

    def do(answer) -> None:
        inner(answer)
        actions.append((answer.action, time.monotonic()))

    driver.place.hearing.carry_out = do
    driver.until(lambda: driver.place.hearing.state() == "listening", "listening")
    for voice in VOICES[: given.voices]:
        for phrase in PHRASES:
            _at_the_picture(driver, said == 0)
            shown, began = driver.root.screen.live.frames, time.monotonic()
            actions.clear()
            before = len(driver.job.record.events)
            sound = _speech(voice, phrase)
            mouth.here.say(sound)
            said += 1
            ends = time.monotonic() + len(sound) / RATE + _PATIENCE_S
            done = None
            while done is None and time.monotonic() < ends:
                EventLoop.idle()
                if done is None and actions:
                    action, at = actions[0]
                    kinds = [e.kind for e in driver.job.record.events[before:]]
                    if action not in _RECORDS:
                        done = at
                    elif _RECORDS[action] in kinds:
                        done = time.monotonic()
                if driver.screen == "camera" and not actions:
                    pictures.append((driver.root.screen.live.frames - shown, time.monotonic() - began))
            if done is not None and mouth.here.ended is not None:
                delays.append((action, done - mouth.here.ended))
            driver.pass_time(0.2)
            driver.settle()
    count, seconds = max(pictures, key=lambda picture: picture[1])
    driver.end()
    return {"delays": delays, "said": said, "pictures_s": count / seconds}


def _at_the_picture(driver, first: bool) -> None:
    """The camera's screen with a running picture, and an ear that has got used to the place."""
    driver.root.go("camera")
    driver.settle()
    camera = driver.root.screen
    from_here = camera.live.frames
    driver.until(lambda: camera.live.frames > from_here + 3, "a picture")
    driver.pass_time(2.0 if first else 0.3)


def _mouth():
    """A microphone in a workshop that gives sound as time passes, and knows when its speech
    was over. What is said is 20 dB louder than the place."""
    import queue

    from evidence_app.devices.microphone import BLOCK
    from evidence_app.devices.named import register_microphone
    from evidence_app.devices.played import PlayedMicrophone

    noise = workshop(60 * RATE, np.random.default_rng(1), 0)
    place = noise * (_SPEECH / 10 / np.std(noise))

    class Mouth(PlayedMicrophone):
        here: Mouth

        def __init__(self, _rest: str = "") -> None:
            super().__init__("bench microphone", realtime=True)
            self._said: queue.Queue[np.ndarray] = queue.Queue()
            self.ended: float | None = None
            Mouth.here = self

        def say(self, speech: np.ndarray) -> None:
            self.ended = None
            self._said.put(speech)

        def blocks(self):
            began, given, left = time.monotonic(), 0, np.zeros(0)
            while True:
                if not len(left) and not self._said.empty():
                    left = self._said.get()
                    self.ended = began + (given + len(left)) / RATE
                sound = place[given % len(place) :][:BLOCK].copy()
                piece, left = left[: len(sound)], left[len(sound) :]
                sound[: len(piece)] += piece
                given += len(sound)
                yield np.clip(sound * 32767, -32768, 32767).astype(np.int16)

    register_microphone("paced", Mouth)
    return Mouth


def _speech(voice: tuple[str, str], phrase: str) -> np.ndarray:
    """Without the quiet at both ends, at the level of speech at the mouth."""
    sound = say(voice, phrase)
    loud = np.flatnonzero(np.abs(sound) > 0.01)
    sound = sound[loud[0] : loud[-1] + 1]
    return sound * (_SPEECH / np.sqrt(np.mean(sound[np.abs(sound) > 0.01] ** 2)))


# --- the cost --------------------------------------------------------------------------------


def _cost(size: tuple[int, int], given: argparse.Namespace) -> dict:
    import soundfile

    from tests.devices.conftest import SoundServer

    folder = Path(tempfile.mkdtemp())
    server = SoundServer(folder)
    server.start()
    os.environ["XDG_RUNTIME_DIR"] = str(folder)
    found = {}
    try:
        driver = _driver(size, "microphone:")
        driver.until(lambda: driver.place.hearing.state() == "listening", "listening")
        chance = np.random.default_rng(5)
        length = int((8 * given.seconds + 60) * RATE)
        for place, level in (("quiet room", 0.0005), ("loud workshop", 0.03)):
            noise = workshop(length, chance, 1)
            path = folder / "noise.wav"
            soundfile.write(path, (noise * level / np.std(noise)).astype(np.float32), RATE)
            playing = server._begin("paplay", str(path))
            driver.pass_time(3)
            turns = {True: [], False: []}
            threads = 0.0
            for on in (True, False, True, False):
                if (driver.place.hearing.listener is not None) != on:
                    driver.place.hearing.toggle()
                    driver.settle()
                    wanted = "listening" if on else "off"
                    driver.until(lambda w=wanted: driver.place.hearing.state() == w, wanted)
                    driver.place.hearing.clear()
                    driver.pass_time(2)
                share, own = _share(driver, given.seconds)
                turns[on].append(share)
                threads += own / 2 if on else 0
            playing.kill()
            playing.wait()
            found[place] = (np.mean(turns[False]), np.mean(turns[True]), threads)
            driver.place.hearing.toggle()
            driver.until(lambda: driver.place.hearing.state() == "listening", "listening")
        driver.end()
    finally:
        server.kill()
        shutil.rmtree(folder, ignore_errors=True)
    return found


def _share(driver, seconds: float) -> tuple[float, float]:
    """Of one core: that of the process, and that of every thread but the window's."""
    began, cpu, before = time.monotonic(), time.process_time(), _ticks()
    driver.pass_time(seconds)
    took = time.monotonic() - began
    others = sum(spent - before.get(thread, 0.0) for thread, spent in _ticks().items())
    return (time.process_time() - cpu) / took, others / took


def _ticks() -> dict[int, float]:
    """Processor seconds of each thread of this process but the first."""
    tick, found = os.sysconf("SC_CLK_TCK"), {}
    for task in Path("/proc/self/task").iterdir():
        if int(task.name) != os.getpid():
            fields = (task / "stat").read_text().rpartition(")")[2].split()
            found[int(task.name)] = (int(fields[11]) + int(fields[12])) / tick
    return found


def _driver(size: tuple[int, int], microphone: str, camera: str | None = None):
    """The tablet at a step with photos, a job of practice."""
    from evidence_app.locations import sample
    from evidence_app.practice.clock import PracticeClock
    from evidence_app.practice.session import load_session
    from tests.tablet.driver import Driver
    from tests.tablet.talking import at_work

    session = load_session(sample("power-loss.session.toml"))
    folder = at_work(session, PracticeClock(session.begins), "inspect-slots")
    driver = Driver(size=size, microphone=microphone, camera=camera, listening=True)
    from kivy.clock import Clock

    Clock._max_fps = 60
    driver._draw_all = True  # every frame is drawn, as on a real screen
    driver.place.resume(folder, driver.root.home)
    driver.until(lambda: driver.job is not None, "the job")
    driver.settle()
    driver.place.dismiss("resumed")
    return driver


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
