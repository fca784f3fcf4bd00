"""The tablet's frame times under full load, and its cold start against a bare window.

Load: the camera's screen with the live picture at 1280x720 and the look at it for the
meters, the app listening to somebody who talks in a workshop, and photos hashed one after
the other on the worker; every frame is drawn. Both are measured in one run, on one display
(Xvfb with graphics in software when no DISPLAY is set). ``--size WxH --seconds S --starts N``.
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

from tests.bench._figures import compared, middle, told

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
    compared("start-ratio", own, bare)
    middle("start", own, "s")
    ratio = statistics.median(own) / statistics.median(bare)
    print(
        f"cold start, median of {count}: bare window {statistics.median(bare):.2f} s, "
        f"first usable screen {statistics.median(own):.2f} s, ratio {ratio:.2f} (at most 2.5)"
    )
    return ratio <= 2.5


def _start(program: str, size: tuple[int, int]) -> float:
    # A file, because Kivy looks for an app's layout beside its source.
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "program.py"
        path.write_text(program.format(width=size[0], height=size[1]), "utf-8")
        began = time.perf_counter()
        subprocess.run(
            [sys.executable, str(path)],
            check=True,
            timeout=60,
            env={**os.environ, "PYTHONPATH": os.getcwd()},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        return time.perf_counter() - began


def _report_frames(given: argparse.Namespace) -> bool:
    """In a process of its own: its threads and textures end with it."""
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "tests.bench",
            "tablet",
            "--frames-only",
            "--size",
            given.size,
            "--seconds",
            str(given.seconds),
        ],
        check=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    found = json.loads(done.stdout.splitlines()[-1])
    print(
        f"frames at {given.size}: {found['frames']} in {found['seconds']:.1f} s, "
        f"{found['pictures']} live pictures shown ({found['picture']}), {found['looks']} looks "
        f"at them, {found['hashed']} photos hashed; it listened to {found['heard']} utterances"
    )
    print(
        f"frame time: median {found['median_ms']:.1f} ms, p95 {found['p95_ms']:.1f} ms "
        f"(under 50), longest {found['longest_ms']:.1f} ms"
    )
    told("frame-median", found["median_ms"], "ms", found["frames"])
    told("frame-within", found["p95_ms"], "ms", found["frames"])
    print("of the window's time:")
    for part, share in found["shares"].items():
        print(f"  {part:<38} {share:6.1%}")
    print("beside it, in parts of one core:")
    for part, share in found["beside"].items():
        print(f"  {part:<38} {share:6.1%}")
    working = found["pictures"] and found["looks"] and found["hashed"] and found["heard"]
    return bool(working) and found["p95_ms"] < 50


def _frames(size: tuple[int, int], seconds: float) -> dict:
    import hashlib

    from evidence_app.photo.gate import live
    from tests.bench.listening import _driver

    _talker()
    with tempfile.TemporaryDirectory() as folder:
        driver = _driver(size, "talker:", f"file:{_photo(Path(folder))}")
        from kivy.base import EventLoop
        from kivy.core.window import Window

        looks, heard, hashed, ending = [0], [0], [0], [False]
        _counted(live, "look", looks)
        driver.until(lambda: driver.place.hearing.state() != "starting", "listening")
        driver.place.hearing.listener._tell = _counting(driver.place.hearing.listener._tell, heard)
        wanted = next(owed.id for owed in driver.job.owed if owed.kind == "photo")
        driver.root.go("camera", wanted=wanted)
        camera = driver.root.screen
        driver.until(lambda: camera.live.frames > 3 and looks[0], "a picture")
        photo = os.urandom(5_000_000)

        def hash_again(_=None) -> None:
            hashed[0] += 1
            if not ending[0]:
                driver.place.worker.run(lambda: hashlib.sha256(photo).digest(), hash_again)

        hash_again()
        parts = dict.fromkeys(
            (
                "live picture to texture",
                "meters and their layout",
                "the listening sign",
                "drawing and showing the frame",
            ),
            0.0,
        )
        _timed(camera, "_picture", parts, "live picture to texture")
        _timed(camera, "_meters", parts, "meters and their layout")
        _timed(driver.root.voice, "_tick", parts, "the listening sign")
        _timed(Window, "on_draw", parts, "drawing and showing the frame")
        _timed(Window, "flip", parts, "drawing and showing the frame")
        driver.pass_time(1)
        shape = driver.place.sensing.camera.latest().shape
        for counter in (looks, heard, hashed):
            counter[0] = 0
        parts.update(dict.fromkeys(parts, 0.0))
        shown, times, before = camera.live.frames, [], _thread_seconds()
        began = time.perf_counter()
        while time.perf_counter() - began < seconds:
            at = time.perf_counter()
            EventLoop.idle()
            times.append(time.perf_counter() - at)
        took = time.perf_counter() - began
        beside = {name: (spent - before.get(name, 0.0)) / took for name, spent in _thread_seconds().items()}
        ending[0] = True
        times.sort()
        result = {
            "frames": len(times),
            "seconds": took,
            "pictures": camera.live.frames - shown,
            "picture": f"{shape[1]}x{shape[0]}",
            "looks": looks[0],
            "hashed": hashed[0],
            "heard": heard[0],
            "median_ms": 1000 * statistics.median(times),
            "p95_ms": 1000 * times[int(len(times) * 0.95)],
            "longest_ms": 1000 * times[-1],
            "shares": {
                **{name: spent / took for name, spent in parts.items()},
                "waiting, layout and everything else": 1 - sum(parts.values()) / took,
            },
            "beside": {name: share for name, share in beside.items() if share > 0.005},
        }
        driver.settle()
        driver.end()
    return result


def _photo(folder: Path) -> Path:
    """A file camera shows a quarter of its photo's size: here 1280x720."""
    import cv2

    from evidence_app.practice.scenes.named import scene_of

    picture = scene_of("slot?side=left&stage=before&seed=62&megapixels=1.33").picture
    path = folder / "photo.jpg"
    cv2.imwrite(str(path), cv2.resize(picture, (5120, 2880), interpolation=cv2.INTER_CUBIC))
    return path


def _talker() -> None:
    """A microphone before which somebody talks, with pauses, in a workshop 20 dB below."""
    import numpy as np

    from evidence_app.devices.microphone import BLOCK, RATE
    from evidence_app.devices.named import register_microphone
    from evidence_app.devices.played import PlayedMicrophone
    from evidence_app.practice.microphone import speech
    from tests.bench._voice_sounds import workshop

    talk = speech("The lining shows some wear at the outer lip. I will look at it again.")
    talk = np.concatenate([talk.astype(float), np.zeros(RATE)])
    noise = workshop(len(talk), np.random.default_rng(1), 0)
    place = talk + noise * (np.std(talk[:-RATE]) / 10 / np.std(noise))
    sound = np.clip(place, -32768, 32767).astype(np.int16)

    class Talker(PlayedMicrophone):
        def __init__(self, _rest: str = "") -> None:
            super().__init__("bench microphone", realtime=True)

        def blocks(self):
            while True:
                for at in range(0, len(sound) - BLOCK, BLOCK):
                    yield sound[at : at + BLOCK]

    register_microphone("talker", Talker)


def _thread_seconds() -> dict[str, float]:
    """Processor seconds of each named thread of this process but the window's."""
    import threading

    tick, found = os.sysconf("SC_CLK_TCK"), {}
    for thread in threading.enumerate():
        if thread is threading.main_thread() or thread.native_id is None:
            continue
        stat = Path(f"/proc/self/task/{thread.native_id}/stat")
        if stat.exists():
            fields = stat.read_text().rpartition(")")[2].split()
            found[thread.name] = (int(fields[11]) + int(fields[12])) / tick
    return found


def _counted(owner, name: str, counter: list[int]) -> None:
    setattr(owner, name, _counting(getattr(owner, name), counter))


def _counting(inner, counter: list[int]):
    def outer(*given, **named):
        counter[0] += 1
        return inner(*given, **named)

    return outer


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
        pass_fds=(writing,),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(writing)
    with os.fdopen(reading) as pipe:
        os.environ["DISPLAY"] = f":{pipe.readline().strip()}"
    os.environ.setdefault("SDL_AUDIODRIVER", "dummy")
    return server
