"""The tablet's memory through a job with many photos of 12 megapixels.

    python -m tests.bench tablet_memory [--photos 60] [--size 1280x800]

A real window on a display of its own, graphics in software, so that every texture is in the
process too. Each photo is taken by the shutter, looked at in full, and the next one is taken;
the memory in use (VmRSS) is read after each, its peak (VmHWM) at the end.
"""

from __future__ import annotations

import argparse
import gc
import os
import re
import sys
import tempfile
from pathlib import Path

from tests.bench._figures import told

PEAK_MB = 450
GROWTH_MB = 20  # from photo 10 to the last


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench tablet_memory")
    parser.add_argument("--photos", type=int, default=60)
    parser.add_argument("--size", default="1280x800")
    options = parser.parse_args(argv)
    from tests.bench.tablet import _display

    server = _display()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["EVIDENCE_APP_HOME"] = folder
        holds = _report(Path(folder), options)
    if server is not None:
        server.terminate()
    sys.stdout.flush()
    os._exit(0 if holds else 1)  # the window ends with the process


def _report(folder: Path, options: argparse.Namespace) -> bool:
    from tests.tablet.driver import Driver

    photo = folder / "photo.jpg"
    photo.write_bytes(_photo())
    start = _memory("VmRSS")
    driver = Driver(size=tuple(map(int, options.size.split("x"))), camera=f"file:{photo}")
    driver.at_first_step()
    begun, after = _memory("VmRSS"), []
    for number in range(1, options.photos + 1):
        photo.write_bytes(_photo(number))
        driver.root.go("camera", wanted="front-as-received")
        driver.until(lambda: "shutter" in driver.actions(), "the picture")
        visit = driver.root.visit
        assert driver.root.act("shutter")
        driver.until(lambda visit=visit: driver.root.visit != visit, "the photo")
        driver.settle()
        driver.root.go("photo", wanted="front-as-received")
        driver.settle()
        driver.until(lambda: driver.root.screen.pane._photo is not None, "the photo at full detail")
        driver.settle()
        driver.root.go("step")
        driver.settle()
        after.append(_memory("VmRSS"))
        if number % 10 == 0:
            print(f"  after photo {number}: {after[-1]} MB", flush=True)
    gc.collect()
    peak, tenth = _memory("VmHWM"), after[min(9, len(after) - 1)]
    print(f"imports {start} MB, first step {begun} MB, {len(after)} photos of 12 MP: peak {peak} MB")
    told("peak", peak, "MB", len(after))
    told("growth-from-the-tenth", after[-1] - tenth, "MB", len(after))
    print(f"(target {PEAK_MB}), growth from photo 10 on {after[-1] - tenth} MB (target {GROWTH_MB})")
    return peak <= PEAK_MB and after[-1] - tenth <= GROWTH_MB


def _photo(seed: int = 0) -> bytes:
    """A sharp scene that differs from photo to photo."""
    import cv2
    import numpy as np

    chance = np.random.default_rng(seed)
    scene = np.full((3000, 4000, 3), 120, np.uint8)
    for _ in range(300):
        x, y, w, h = (int(n) for n in chance.integers((0, 0, 60, 60), (3900, 2900, 600, 600)))
        cv2.rectangle(scene, (x, y), (x + w, y + h), (int(chance.integers(30, 220)),) * 3, -1)
    return cv2.imencode(".jpg", scene, [cv2.IMWRITE_JPEG_QUALITY, 90])[1].tobytes()


def _memory(name: str) -> int:
    """In megabytes; Linux."""
    found = re.search(name + r":\s+([0-9]+) kB", Path("/proc/self/status").read_text())
    assert found is not None
    return int(found[1]) // 1024
