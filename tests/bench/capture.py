"""Capture to durable: bytes in hand to event committed, against the bare work on the same bytes.

Bare work: SHA-256 with hashlib, write to a new file, fsync of that file. Both
take turns on the same disk in one run, so that its moods fall on both alike.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import statistics
import tempfile
import time
from pathlib import Path

import msgspec

from evidence_app.record.clock import SystemClock
from evidence_app.record.event import Draft
from evidence_app.record.record import Record
from tests.bench._figures import compared

TARGET = 1.3


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench capture", description=__doc__)
    parser.add_argument("--photos", type=int, default=60)
    parser.add_argument("--megabytes", type=float, default=5.0, help="size of one photo")
    parser.add_argument("--folder", type=Path, help="where to write (default: a temporary folder)")
    options = parser.parse_args(argv)
    size = round(options.megabytes * 1e6)
    with tempfile.TemporaryDirectory(dir=options.folder) as work:
        bare, captured = _take_turns(Path(work), options.photos, size)
    compared("ratio", captured, bare)
    ratio = statistics.median(captured) / statistics.median(bare)
    print(f"{options.photos} photos of {size / 1e6:g} MB each, taking turns")
    print(f"{'':34}{'median ms':>10}{'90 % ms':>10}")
    for name, times in (("hash + write + fsync, bare", bare), ("stored and its event committed", captured)):
        tenth_slowest = statistics.quantiles(times, n=10)[-1]
        print(f"{name:34}{statistics.median(times) * 1e3:10.2f}{tenth_slowest * 1e3:10.2f}")
    print(f"ratio of medians {ratio:.2f} (target at most {TARGET})")
    return 0


def _take_turns(work: Path, photos: int, size: int) -> tuple[list[float], list[float]]:
    bare: list[float] = []
    captured: list[float] = []
    with Record.create(work / "job", SystemClock()) as record:
        for number in range(photos):
            data = os.urandom(size)
            pair = [
                (bare, lambda data=data, number=number: _bare(work / f"bare-{number}", data)),
                (captured, lambda data=data: _capture(record, data)),
            ]
            # The one that goes second may find the disk busy, so they change places.
            for times, task in pair if number % 2 else reversed(pair):
                begun = time.perf_counter()
                task()
                times.append(time.perf_counter() - begun)
    return bare, captured


def _bare(path: Path, data: bytes) -> None:
    hashlib.sha256(data).hexdigest()
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    try:
        view = memoryview(data)
        while view:
            view = view[os.write(descriptor, view) :]
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _capture(record: Record, data: bytes) -> None:
    photo = msgspec.to_builtins(record.store(data, "image/jpeg"))
    record.append(Draft("photo-taken", {"photo": photo, "purpose": "checkpoint"}, step="look"))
