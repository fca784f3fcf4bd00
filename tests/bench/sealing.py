"""Sealing a job against bare hashing plus copying plus fsync of the same files.

The job has photos of 12 megapixels, taken through the real guide. The bare
side reads each original once for its SHA-256 and once for a copy, and forces
each copy to the disk. Sealing also decodes every photo for the report's previews,
which the bare side does not; so it is measured twice, with the report rendered
beforehand and whole, and the report has a line of its own.
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
from unittest import mock

from evidence_app.job.summary import summarise
from evidence_app.package import layout, seal
from evidence_app.record.record import Record
from evidence_app.steplist.load import loads
from tests.making import STEP_LIST, make_closed_job, make_key, open_record

TARGET = 1.2


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench sealing")
    parser.add_argument("--photos", type=int, default=30, help="photos of 12 MP in the job")
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--folder", type=Path, help="where to measure; the disk matters")
    options = parser.parse_args(argv)
    with tempfile.TemporaryDirectory(dir=options.folder) as folder:
        _measure(Path(folder), options.photos, options.rounds)
    return 0


def _measure(folder: Path, photos: int, rounds: int) -> None:
    job = make_closed_job(folder / "job", photo_size=(4000, 3000), extra_photos=photos - 2)
    with open_record(job) as record:
        sources = [record.path_of(each.sha256) for each in layout.place_originals(record.events)]
        total = sum(source.stat().st_size for source in sources)
        print(f"{len(sources)} originals, {total / 1e6:.0f} MB; median of {rounds} rounds in turn")
        rendered = _render(record)
        tasks = {
            "bare hashing + copying + fsync": lambda: _bare(sources, folder / "copies"),
            "sealing, report rendered before": lambda: _seal(record, folder, rendered),
            "sealing, whole": lambda: _seal(record, folder, None),
            "rendering the report alone": lambda: _timed(lambda: _render(record)),
        }
        turns = [{name: task() for name, task in tasks.items()} for _ in range(rounds)]
        times = {name: [turn[name] for turn in turns] for name in tasks}
    bare = statistics.median(times["bare hashing + copying + fsync"])
    for name, measured in times.items():
        median = statistics.median(measured)
        ratio = median / bare
        verdict = "" if not name.startswith("sealing") else "met" if ratio <= TARGET else "missed"
        print(f"{name:<36}{median:8.3f} s   {ratio:5.2f}  {verdict}".rstrip())
    print(f"target of sealing at most {TARGET}; the whole includes the decoding of every photo")


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


def _seal(record: Record, folder: Path, report: bytes | None) -> float:
    """Seconds to seal into a new folder; with ``report`` nothing is rendered."""
    out = folder / "out"
    shutil.rmtree(out, ignore_errors=True)
    step_list = loads(STEP_LIST, "step list")
    rendering = seal.render_report if report is None else lambda *_, **__: report
    with mock.patch.object(seal, "render_report", rendering):
        return _timed(lambda: seal.seal_job(record, step_list, make_key(), out))


def _render(record: Record) -> bytes:
    places = layout.place_originals(record.events)
    return seal.render_report(
        summarise(loads(STEP_LIST, "step list"), record.events),
        fingerprint=layout.fingerprint(record.head, make_key().sha256),
        head=record.head,
        device_key_sha256=make_key().sha256,
        load=lambda sha256: record.path_of(sha256).read_bytes(),
        path_in_package={place.sha256: place.path for place in places}.__getitem__,
    )


def _timed(action: Callable[[], object]) -> float:
    began = time.perf_counter()
    action()
    return time.perf_counter() - began
