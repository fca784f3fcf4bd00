"""Checking a large package against bare hashing of the same bytes.

    python -m tests.bench verifying [--megabytes 1000] [--rounds 5] [--folder FOLDER] [--short]

The limit is hashlib over the very same file with as many threads as the checker
uses, each reading into one buffer of its own. The same through a memory map stands
beside it: it is faster and not to be had for a checker, because a disk that is removed
under a memory map kills the process instead of giving an error. Every row is measured
in each round; ``ratio`` is the median over the rounds of its ratio in one round,
``best`` compares the fastest rounds, which a busy machine disturbs least. Comparing
the report's pictures decodes every photo; it is measured in a row of its own, like
the tools that people have anyway.
"""

from __future__ import annotations

import argparse
import hashlib
import mmap
import os
import statistics
import subprocess
import tempfile
import threading
import time
import zipfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import bagit

from evidence_app.job import commands as c
from evidence_app.job.running.guide import Job
from evidence_app.package.verify.check import verify
from evidence_app.package.verify.digests import CHUNK, WORKERS
from tests import making
from tests.bench._figures import compared, key_of

PHOTO_BYTES = 5_000_000


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench verifying")
    parser.add_argument("--megabytes", type=int, default=1000)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--folder", type=Path, help="where the package is made")
    parser.add_argument("--short", action="store_true", help="without report and other tools")
    options = parser.parse_args(argv)
    with tempfile.TemporaryDirectory(dir=options.folder) as folder:
        package = make_large_package(Path(folder), options.megabytes * 1_000_000)
        bag = unpack(package, Path(folder) / "unpacked")
        spans = file_spans(package)
        total = sum(size for _, size in spans)
        events = verify(package, compare_pictures=False).facts.events
        print(f"{total / 1e6:.0f} MB in {len(spans)} files, {events} events, {WORKERS} threads")
        rows: dict[str, Callable[[], object]] = {
            "hashlib, two threads": lambda: hash_read(package, spans),
            "hashlib, memory map": lambda: hash_mapped(package, spans),
            "verify without pictures": lambda: _hold(verify(package, compare_pictures=False)),
            "verify, unpacked": lambda: _hold(verify(bag, compare_pictures=False)),
        }
        others = {
            "verify, pictures too": lambda: _hold(verify(package)),
            "bagit library": lambda: bagit.Bag(str(bag)).validate(processes=WORKERS),
            "sha256sum -c": lambda: sha256sum(bag),
            "unzip -t": lambda: unzip_t(package),
        }
        report(measure(rows if options.short else rows | others, options.rounds), total)
    return 0


def make_large_package(folder: Path, size: int, pixels: tuple[int, int] = (96, 72)) -> Path:
    """A sealed job of the wanted size: one checkpoint with very many retakes.

    The photos are pictures of ``pixels`` with noise behind their end marker, which
    counts in full for everything but decoding.
    """
    clock = making.QuickClock()
    arguments = (making.STEP_LIST, None, making.SERIAL, making.CLAIM, making.TECHNICIAN)
    with Job.open(folder / "job", *arguments, False, clock, making.measure_fixed) as job:
        picture = making.photo(1, *pixels)
        for _ in range(max(1, size // PHOTO_BYTES)):
            _reach_photo(job, clock, picture)
            _take(job, job.owed[0].id, picture)
        while job.owed:
            _meet(job, clock, picture)
        job.do(c.Close())
    return making.seal(folder / "job", folder / "out").path


def _reach_photo(job: Job, clock: making.QuickClock, picture: bytes) -> None:
    while not job.owed or job.owed[0].kind != "photo":
        if job.owed:
            _meet(job, clock, picture)
        else:
            job.do(c.GoOn())


def _take(job: Job, wanted: str, data: bytes) -> None:
    source = {"kind": "file", "name": "test camera"}
    job.do(c.TakePhoto(data + os.urandom(PHOTO_BYTES - len(data)), wanted, "checkpoint", source))


def _meet(job: Job, clock: making.QuickClock, picture: bytes) -> None:
    owed = job.owed[0]
    match owed.kind:
        case "caution":
            job.do(c.AcknowledgeCaution(owed.id))
        case "item":
            job.do(c.TickItem(owed.list, owed.id))
        case "hold":
            job.do(c.StartHold())
            clock.hands.advance(11)
            job.do(c.EndHold())
        case "reading":
            job.do(c.EnterReading(owed.id, "120"))
        case "count":
            job.do(c.CountPieces(owed.id, 4))
        case "photo" if owed.photo is not None:
            job.do(c.KeepPhoto(owed.photo, "the picture is small on purpose"))
        case "photo":
            _take(job, owed.id, picture)
        case "finding":
            job.do(c.GiveFinding("clear"))


def unpack(package: Path, folder: Path) -> Path:
    with zipfile.ZipFile(package) as archive:
        archive.extractall(folder)
    return next(folder.iterdir())


def file_spans(package: Path) -> list[tuple[int, int]]:
    """Offset and size of each file's bytes in the ZIP file, found by Python's zipfile."""
    with zipfile.ZipFile(package) as archive, package.open("rb") as file:
        spans = []
        for info in archive.infolist():
            file.seek(info.header_offset + 26)
            lengths = file.read(4)
            names = int.from_bytes(lengths[:2], "little") + int.from_bytes(lengths[2:], "little")
            spans.append((info.header_offset + 30 + names, info.file_size))
    return sorted(spans, key=lambda span: -span[1])


def hash_mapped(package: Path, spans: list[tuple[int, int]]) -> None:
    with package.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as view:
        whole = memoryview(view)
        with ThreadPoolExecutor(WORKERS) as pool:
            list(pool.map(lambda s: hashlib.sha256(whole[s[0] : s[0] + s[1]]).digest(), spans))
        whole.release()


def hash_read(package: Path, spans: list[tuple[int, int]]) -> None:
    own = threading.local()
    with package.open("rb") as file, ThreadPoolExecutor(WORKERS) as pool:

        def digest(span: tuple[int, int]) -> bytes:
            if not hasattr(own, "buffer"):
                own.buffer = memoryview(bytearray(CHUNK))
            at, left = span
            found = hashlib.sha256()
            while left:
                count = os.preadv(file.fileno(), [own.buffer[: min(left, CHUNK)]], at)
                found.update(own.buffer[:count])
                at, left = at + count, left - count
            return found.digest()

        list(pool.map(digest, spans))


def sha256sum(bag: Path) -> None:
    command = ["sha256sum", "-c", "--quiet", "manifest-sha256.txt"]
    subprocess.run(command, cwd=bag, check=True, capture_output=True)


def unzip_t(package: Path) -> None:
    subprocess.run(["unzip", "-tqq", str(package)], check=True, capture_output=True)


def _hold(result) -> None:
    if result.failed:
        raise RuntimeError(f"the package was to hold: {result.overall}")


def measure(rows: dict[str, Callable[[], object]], rounds: int) -> list[dict[str, float]]:
    """Seconds of each row, round by round."""
    taken = []
    for _ in range(rounds):
        seconds = {}
        for name, run in rows.items():
            start = time.perf_counter()
            run()
            seconds[name] = time.perf_counter() - start
        taken.append(seconds)
    return taken


def report(rounds: list[dict[str, float]], total: int) -> None:
    limits = [r["hashlib, two threads"] for r in rounds]
    print(f"{'':<24}{'seconds':>9}{'MB/s':>8}{'ratio':>8}{'best':>8}")
    for name in rounds[0]:
        taken = statistics.median(r[name] for r in rounds)
        ratio = statistics.median(r[name] / limit for r, limit in zip(rounds, limits, strict=True))
        if name != "hashlib, two threads":
            compared(key_of(name), [r[name] for r in rounds], limits)
        best = min(r[name] for r in rounds) / min(limits)
        print(f"{name:<24}{taken:>9.3f}{total / taken / 1e6:>8.0f}{ratio:>8.2f}{best:>8.2f}")
    print("ratio: to hashlib in two threads; target of verify without pictures: at most 1.2")
