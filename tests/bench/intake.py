"""Taking in a thousand packages: is the cost of each the same at the end as at the beginning?

    python -m tests.bench intake [--packages 1000] [--folder FOLDER]

The packages are small, whole, of different jobs and with different photos; made first (in
FOLDER, where they stay and are used again) and then taken in one by one. The ratio is
the last hundred against the first hundred, of the time of the process itself, so that
other programs count little.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from evidence_app.desk.intake import Desk, Intake
from evidence_app.desk.register import Register
from tests import making
from tests.bench._figures import told

LIMIT = 1.2


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench intake", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)  # fmt: skip
    parser.add_argument("--packages", type=int, default=1000)
    parser.add_argument("--folder", type=Path)
    chosen = parser.parse_args(argv)
    with tempfile.TemporaryDirectory() as scratch:
        packages = made(chosen.folder or Path(scratch), chosen.packages)
        report(taken(Path(scratch) / "register.db", packages))
    return 0


def made(folder: Path, count: int) -> list[Path]:
    with ProcessPoolExecutor(2) as pool:
        return list(pool.map(make, [folder] * count, range(count), chunksize=10))


def make(folder: Path, number: int) -> Path:
    place = folder / f"{number:05d}"
    there = sorted((place / "out").glob("*.zip"))
    if there:
        return there[0]
    plain = making.photo
    making.photo = lambda seed, *size: plain(number * 1000 + seed, *size)
    try:
        outcome = "stopped" if number % 7 == 0 else "completed"
        return making.make_package(place, claim=f"NQ-{number:05d}", outcome=outcome).path
    finally:
        making.photo = plain


def taken(register: Path, packages: list[Path]) -> list[tuple[float, float]]:
    """Wall and process time of each package, in seconds."""
    intake = Intake(Register(register), Desk("desk 2"))
    times = []
    for package in packages:
        wall, worked = time.perf_counter(), time.process_time()
        result = intake.take(package)
        times.append((time.perf_counter() - wall, time.process_time() - worked))
        if result.state != "entered":
            raise RuntimeError(result.sentence)
    return times


def report(times: list[tuple[float, float]]) -> None:
    part = min(100, len(times) // 2)
    print(f"{len(times)} packages, one by one; milliseconds each, middle of {part}")
    print(f"{'':<16}{'wall':>8}{'process':>9}")
    for name, chosen in (("first", times[:part]), ("last", times[-part:])):
        wall, worked = (statistics.median(column) * 1e3 for column in zip(*chosen, strict=True))
        print(f"{name:<16}{wall:>8.1f}{worked:>9.1f}")
    ratios = [
        statistics.median(t[i] for t in times[-part:]) / statistics.median(t[i] for t in times[:part])
        for i in (0, 1)
    ]
    told("ratio-wall", ratios[0], "", part)
    told("ratio", ratios[1], "", part)
    print(f"{'ratio':<16}{ratios[0]:>8.2f}{ratios[1]:>9.2f}   limit {LIMIT}")
