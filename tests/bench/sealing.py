"""Sealing a job against bare hashing plus copying plus fsync of the same files.

The job has photos of 12 megapixels, taken through the real guide. The bare
side reads each original once for its SHA-256 and once for a copy, and forces
each copy to the disk. Sealing does that, renders the report and writes it too;
the report's previews were made when the photos came in. ``no previews kept``
is what sealing costs when it must make them: each photo is decoded then.
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

from evidence_app.package import layout
from evidence_app.package.seal import seal_job
from evidence_app.record.record import Record
from evidence_app.steplist.load import loads
from tests.bench._figures import compared
from tests.making import STEP_LIST, make_closed_job, make_key, open_record

TARGET = 1.2


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench sealing")
    parser.add_argument("--photos", type=int, default=30, help="photos of 12 MP in the job")
    parser.add_argument("--rounds", type=int, default=9)
    parser.add_argument("--folder", type=Path, help="where to measure; the disk matters")
    options = parser.parse_args(argv)
    with tempfile.TemporaryDirectory(dir=options.folder) as folder:
        _measure(Path(folder), options.photos, options.rounds)
    return 0


def _measure(folder: Path, photos: int, rounds: int) -> None:
    job = make_closed_job(folder / "job", photo_size=(4000, 3000), extra_photos=photos - 2)
    without = shutil.copytree(job, folder / "without previews")
    shutil.rmtree(without / "derived")
    with open_record(job) as record, open_record(without) as bare_record:
        sources = [record.path_of(each.sha256) for each in layout.place_originals(record.events)]
        total = sum(source.stat().st_size for source in sources)
        print(f"{len(sources)} originals, {total / 1e6:.0f} MB; {rounds} rounds in turn")
        tasks = {
            "bare hashing + copying + fsync": lambda: _bare(sources, folder / "copies"),
            "sealing": lambda: _seal(record, folder),
            "sealing, no previews kept": lambda: _seal(bare_record, folder),
        }
        turns = [{name: task() for name, task in tasks.items()} for _ in range(rounds)]
    _report(turns)


def _report(turns: list[dict[str, float]]) -> None:
    """``ratio`` is the median over the rounds of the ratio in one round."""
    (bare, *_) = turns[0]
    for name in turns[0]:
        median = statistics.median(turn[name] for turn in turns)
        ratio = statistics.median(turn[name] / turn[bare] for turn in turns)
        if name != bare:
            key = "ratio-without-previews" if "no previews" in name else "ratio"
            compared(key, [turn[name] for turn in turns], [turn[bare] for turn in turns])
        verdict = {"sealing": "met" if ratio <= TARGET else "missed"}.get(name, "")
        print(f"{name:<36}{median:8.3f} s   {ratio:5.2f}  {verdict}".rstrip())
    print(f"target of sealing, report included: at most {TARGET}")


def _bare(sources: list[Path], target: Path) -> float:
    shutil.rmtree(target, ignore_errors=True)
    target.mkdir()
    return _timed(lambda: [_hash_and_copy(source, target / source.name) for source in sources])


def _hash_and_copy(source: Path, copy: Path) -> None:
    with source.open("rb") as file:
        hashlib.file_digest(file, "sha256")
    shutil.copyfile(source, copy)
    with copy.open("rb+") as file:
        os.fsync(file.fileno())


def _seal(record: Record, folder: Path) -> float:
    """Seconds to seal into a new folder."""
    out = folder / "out"
    shutil.rmtree(out, ignore_errors=True)
    step_list = loads(STEP_LIST, "step list")
    return _timed(lambda: seal_job(record, step_list, make_key(), out))


def _timed(action: Callable[[], object]) -> float:
    began = time.perf_counter()
    action()
    return time.perf_counter() - began
