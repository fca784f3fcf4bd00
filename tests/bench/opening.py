"""Opening a job of 60 events and 30 photos, after a clean end and after a kill.

"Killed" opens a copy of the folder as it stood with the job still open, which
is what a power cut leaves: the last events only in the write-ahead log. For
comparison, what hashing every original again costs, which opening does not do.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import shutil
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import msgspec

from evidence_app.record.clock import SystemClock
from evidence_app.record.event import Draft
from evidence_app.record.record import Record
from tests.bench._figures import told

TARGET_S = 0.5
REPEATS = 7


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench opening", description=__doc__)
    parser.add_argument("--photos", type=int, default=30)
    parser.add_argument("--megabytes", type=float, default=5.0, help="size of one photo")
    parser.add_argument("--folder", type=Path, help="where to write (default: a temporary folder)")
    options = parser.parse_args(argv)
    with tempfile.TemporaryDirectory(dir=options.folder) as work:
        job, killed = Path(work) / "job", Path(work) / "killed"
        _make_job(job, killed, options.photos, round(options.megabytes * 1e6))
        copies = [_copy(killed, Path(work) / f"killed-{number}") for number in range(REPEATS)]
        clean_s = _median(lambda _: _open(job))
        killed_s = _median(lambda number: _open(copies[number]))
        with Record.open(job, SystemClock()) as record:
            rehash_s = _median(lambda _: record.check_originals())
            paths = [path for path in (job / "originals").rglob("*") if path.is_file()]
            bare_s = _median(lambda _: [_bare_hash(path) for path in paths])
            events = len(record.events)
    told("clean", clean_s * 1e3, "ms", REPEATS)
    told("killed", killed_s * 1e3, "ms", REPEATS)
    told("hashed-again", rehash_s * 1e3, "ms", REPEATS)
    print(f"{events} events, {len(paths)} originals of {options.megabytes:g} MB; medians of {REPEATS}")
    print(f"{'':44}{'ms':>9}{'ratio':>9}")
    print(f"{'open after a clean end':44}{clean_s * 1e3:9.1f}{clean_s / TARGET_S:9.3f} of the target")
    print(f"{'open after a kill':44}{killed_s * 1e3:9.1f}{killed_s / TARGET_S:9.3f} of the target")
    print(
        f"{'check_originals (all hashed, two threads)':44}{rehash_s * 1e3:9.1f}"
        f"{rehash_s / bare_s:9.2f} of bare hashlib, one thread"
    )
    print(f"target {TARGET_S * 1e3:.0f} ms")
    return 0


def _make_job(job: Path, killed: Path, photos: int, size: int) -> None:
    with Record.create(job, SystemClock()) as record:
        for number in range(photos):
            photo = msgspec.to_builtins(record.store(os.urandom(size), "image/jpeg"))
            record.append(Draft("photo-taken", {"photo": photo, "wanted": None}, f"step-{number}"))
            record.append(Draft("photo-judged", {"photo": photo["sha256"], "passes": True, "checks": []}))
        _copy(job, killed)


def _copy(job: Path, target: Path) -> Path:
    """Copy a job's folder; the originals, which are never written again, as hard links."""
    shutil.copytree(
        job,
        target,
        copy_function=lambda source, copy: (
            os.link if "originals" in Path(source).parts else shutil.copyfile
        )(source, copy),
    )
    return target


def _open(folder: Path) -> None:
    Record.open(folder, SystemClock()).close()


def _bare_hash(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _median(task: Callable[[int], object]) -> float:
    times = []
    for number in range(REPEATS):
        begun = time.perf_counter()
        task(number)
        times.append(time.perf_counter() - begun)
    return statistics.median(times)
