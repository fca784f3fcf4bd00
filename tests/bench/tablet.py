"""The tablet's frame times under full load, and its cold start against a bare window.

Load: the live picture at 1280x720, the microphone into a level meter, and photos hashed
one after the other on the worker. Both are measured in one run, on one display (Xvfb with
graphics in software when no DISPLAY is set). ``--size WxH --seconds S --starts N``.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

_BARE = """
import os
os.environ.update(KIVY_NO_ARGS="1", KIVY_NO_CONFIG="1", KIVY_NO_FILELOG="1", KIVY_NO_CONSOLELOG="1")
from kivy.config import Config
Config.set("graphics", "multisamples", "0")
Config.set("graphics", "width", "{width}"); Config.set("graphics", "height", "{height}")
from kivy.app import App
from kivy.clock import Clock
from kivy.uix.label import Label
class Bare(App):
    def build(self): return Label(text="bare")
    def on_start(self): Clock.schedule_once(lambda _: Clock.schedule_once(lambda _: os._exit(0)), 0)
Bare().run()
"""
_TABLET = """
import os
os.environ["KIVY_NO_CONSOLELOG"] = "1"
from kivy.clock import Clock
from evidence_app.tablet.setup import prepare
prepare(({width}, {height}))
from evidence_app.tablet.app import TabletApp
def look(_):
    frame = App.get_running_app().frame
    if frame.screen._rows is not None and "new" in [p.action for p in frame.plates()]:
        Clock.schedule_once(lambda _: os._exit(0))
from kivy.app import App
Clock.schedule_interval(look, 0)
from evidence_app.tablet.run import run
run(size=({width}, {height}), practice=True)
"""


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench tablet")
    parser.add_argument("--size", default="1280x800")
    parser.add_argument("--seconds", type=float, default=10)
    parser.add_argument("--starts", type=int, default=5)
    parser.add_argument("--frames-only", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args(argv)
    size = tuple(int(part) for part in given.size.split("x"))
    if given.frames_only:
        print(json.dumps(_frames(size, given.seconds)))
        return 0
    server = _display()
    try:
        with tempfile.TemporaryDirectory() as home:
            os.environ["EVIDENCE_APP_HOME"] = home
            start_holds = _report_starts(size, given.starts)
            frames_hold = _report_frames(given)
    finally:
        if server is not None:
            server.terminate()
            server.wait()
    return 0 if start_holds and frames_hold else 1


def _report_starts(size: tuple[int, int], count: int) -> bool:
    bare, own = [], []
    for _ in range(count):  # in turn, so that a busy moment of the machine strikes both
        bare.append(_start(_BARE, size))
        own.append(_start(_TABLET, size))
    ratio = statistics.median(own) / statistics.median(bare)
    print(f"cold start, median of {count}: bare window {statistics.median(bare):.2f} s, "
          f"first usable screen {statistics.median(own):.2f} s, ratio {ratio:.2f} (at most 2.5)")
    return ratio <= 2.5


def _start(program: str, size: tuple[int, int]) -> float:
    # A file, because Kivy looks for an app's layout beside its source.
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "program.py"
        path.write_text(program.format(width=size[0], height=size[1]), "utf-8")
        began = time.perf_counter()
        subprocess.run([sys.executable, str(path)], check=True, timeout=60,
                       env={**os.environ, "PYTHONPATH": os.getcwd()},
                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        return time.perf_counter() - began


def _report_frames(given: argparse.Namespace) -> bool:
    """In a process of its own: its threads and textures end with it."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench", "tablet", "--frames-only", "--size", given.size,
         "--seconds", str(given.seconds)],
        check=True, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    found = json.loads(done.stdout.splitlines()[-1])
    print(f"frames at {given.size}: {found['frames']} in {found['seconds']:.1f} s, "
          f"{found['pictures']} live pictures shown, {found['hashed']} photos hashed, "
          f"{found['sound_s']:.1f} s of sound metered")
    print(f"frame time: median {found['median_ms']:.1f} ms, p95 {found['p95_ms']:.1f} ms "
          f"(under 50), longest {found['longest_ms']:.1f} ms")
    for part, share in found["shares"].items():
        print(f"  {part:<32} {share:5.1%}")
    return found["p95_ms"] < 50


def _frames(size: tuple[int, int], seconds: float) -> dict:
    import hashlib

    from evidence_app.practice.microphone import speech
    from tests.tablet.driver import Driver

    driver = Driver(size=size)
    from kivy.base import EventLoop
    from kivy.clock import Clock
    from kivy.core.window import Window

    from evidence_app.devices.microphone import BLOCK, RATE
    from evidence_app.devices.played import PlayedMicrophone
    from evidence_app.voice.levels import LevelMeter

    Clock._max_fps = 60
    driver.at_first_step()
    driver.root.go("camera", wanted="front-as-received")
    camera = driver.root.screen
    driver.until(lambda: camera.live.frames > 3, "a picture")

    sound, meter, heard = speech("One two three four five six seven eight."), LevelMeter(), [0]

    class Talk(PlayedMicrophone):
        def blocks(self):
            while True:
                for at in range(0, len(sound) - BLOCK, BLOCK):
                    yield sound[at : at + BLOCK]

    def block(samples) -> None:
        meter.feed(samples)
        heard[0] += len(samples)

    microphone = Talk("bench microphone", True)
    microphone.start(block)
    photo, hashed, ending = os.urandom(5_000_000), [0], [False]

    def hash_again(_=None) -> None:
        hashed[0] += 1
        if not ending[0]:
            driver.place.worker.run(lambda: hashlib.sha256(photo).digest(), hash_again)

    hash_again()
    parts = {"live picture to texture": 0.0, "drawing and showing the frame": 0.0}
    _timed(camera, "_picture", parts, "live picture to texture")
    _timed(Window, "on_draw", parts, "drawing and showing the frame")
    _timed(Window, "flip", parts, "drawing and showing the frame")
    shown, times = camera.live.frames, []
    began = time.perf_counter()
    while time.perf_counter() - began < seconds:
        at = time.perf_counter()
        EventLoop.idle()
        times.append(time.perf_counter() - at)
    took = time.perf_counter() - began
    ending[0] = True
    microphone.stop()
    times.sort()
    result = {
        "frames": len(times), "seconds": took, "pictures": camera.live.frames - shown,
        "hashed": hashed[0], "sound_s": heard[0] / RATE,
        "median_ms": 1000 * statistics.median(times),
        "p95_ms": 1000 * times[int(len(times) * 0.95)], "longest_ms": 1000 * times[-1],
        "shares": {**{name: spent / took for name, spent in parts.items()},
                   "waiting, layout and everything else": 1 - sum(parts.values()) / took},
    }
    driver.settle()
    driver.end()
    return result


def _timed(owner, name: str, parts: dict[str, float], part: str) -> None:
    inner = getattr(owner, name)

    def outer(*given, **named):
        at = time.perf_counter()
        try:
            return inner(*given, **named)
        finally:
            parts[part] += time.perf_counter() - at

    setattr(owner, name, outer)


def _display() -> subprocess.Popen | None:
    if os.environ.get("DISPLAY"):
        return None
    program = shutil.which("Xvfb")
    if program is None:
        raise SystemExit("no display and no Xvfb: run `sh .ci/setup test`")
    reading, writing = os.pipe()
    server = subprocess.Popen(
        [program, "-displayfd", str(writing), "-screen", "0", "2560x1600x24", "-nolisten", "tcp"],
        pass_fds=(writing,), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    os.close(writing)
    with os.fdopen(reading) as pipe:
        os.environ["DISPLAY"] = f":{pipe.readline().strip()}"
    os.environ.setdefault("SDL_AUDIODRIVER", "dummy")
    return server
