"""What grows, and how it is measured: one function for each series, run as a process of its own.

Each takes the sizes it is measured at and a folder, and yields (unit, size, processor seconds of
all ``size`` units, MB above what the imports took). Seconds are of the processor, so that other
programs count little. A series whose cost is that of one more among ``size`` gives that cost
times ``size``: what all of them would cost at that price.
"""

from __future__ import annotations

import ctypes
import os
import re
import resource
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from pathlib import Path
from statistics import median

_SUBREAPER = 36  # PR_SET_CHILD_SUBREAPER of Linux

Point = tuple[str, int, float, float]


def spent(work: Callable[[], object]) -> tuple[float, float]:
    """Processor seconds, and MB at most above what was there before."""
    Path("/proc/self/clear_refs").write_text("5")
    before, began = _memory("VmRSS"), time.process_time()
    work()
    return time.process_time() - began, max(0.0, _memory("VmHWM") - before)


def _memory(name: str) -> float:
    found = re.search(name + r":\s+([0-9]+) kB", Path("/proc/self/status").read_text())
    assert found is not None
    return int(found[1]) / 1024


def events(sizes: list[int], folder: Path) -> Iterator[Point]:
    """A job of written notes: one more entry, taking it up again, sealing, checking."""
    from evidence_app.job import commands as c

    for size in sizes:
        bench = _begun(folder / f"events-{size}")
        started = len(bench.job.record.events)
        while len(bench.job.record.events) < size - 20:
            bench.do(c.WriteNote("Lamp held at the left rim."))
        taken = [
            spent(lambda bench=bench: bench.do(c.WriteNote("The last ones are counted.")))
            for _ in range(max(1, min(20, size - started)))
        ]
        count = len(bench.job.record.events)
        yield "an entry", count, median(one for one, _ in taken) * count, sum(mb for _, mb in taken)
        yield from _taken_up_sealed_checked(bench, "job with entries", count, folder)


def photos(sizes: list[int], folder: Path) -> Iterator[Point]:
    """The same with small photos kept as notes."""
    from evidence_app.job import commands as c
    from tests.job.bench import SOURCE

    for size in sizes:
        bench = _begun(folder / f"photos-{size}")
        taken = []
        for seed in range(size):
            command = c.TakePhoto(_small_photo(seed, bench.clock.now().wall), None, "note", SOURCE)
            taken.append(spent(lambda bench=bench, command=command: bench.do(command)))
        last = taken[-max(1, min(20, size // 2)) :]
        yield "a photo", size, median(one for one, _ in last) * size, sum(mb for _, mb in taken)
        yield from _taken_up_sealed_checked(bench, "job with photos", size, folder)


def _small_photo(seed: int, wall: str) -> bytes:
    """As the app encodes one taken at ``wall``; its bytes different for each seed."""
    import cv2
    import numpy as np

    from evidence_app.photo.encode import encode_jpeg

    noise = np.random.default_rng(seed).integers(0, 256, (72, 96, 3), dtype=np.uint8)
    return encode_jpeg(cv2.GaussianBlur(noise, (0, 0), 2), wall, f"{seed:032x}", "bench camera")


def _begun(folder: Path):
    from evidence_app.job import commands as c
    from evidence_app.practice.clock import PracticeClock
    from tests.job.bench import Bench, Photos

    bench = Bench(folder, PracticeClock("2026-03-02T08:00:00.000+01:00"), Photos())
    bench.open()
    bench.prepare()
    bench.do(c.GoOn())
    return bench


def _taken_up_sealed_checked(bench, what: str, size: int, folder: Path) -> Iterator[Point]:
    from evidence_app.job import commands as c
    from evidence_app.package.seal import seal_job
    from evidence_app.package.verify.check import verify
    from evidence_app.steplist.load import loads
    from tests.job.bench import STEP_LIST
    from tests.making import make_key

    yield f"{what}: taken up", size, *spent(bench.resume)
    bench.do(c.Abandon("the unit was called back by the claimant"))
    out = folder / f"out-{size}"
    found = []
    sealing = spent(
        lambda: found.append(seal_job(bench.job.record, loads(STEP_LIST, "steps"), make_key(), out))
    )
    yield f"{what}: sealed", size, *sealing
    bench.job.close()
    results = []
    checking = spent(lambda: results.append(verify(found[0].path, accept_practice=True)))
    assert not results[0].failed, results[0].overall
    yield f"{what}: checked", size, *checking
    shutil.rmtree(bench.folder)
    shutil.rmtree(out)


def packages(sizes: list[int], folder: Path) -> Iterator[Point]:
    """``evidence-app verify`` of many files, with all its processes; memory is that of the largest."""
    from tests.making import make_package

    made = make_package(folder / "one").path
    # The checking processes end with the server that forks them, which nobody waits for but us.
    ctypes.CDLL(None).prctl(_SUBREAPER, 1)
    for size in sizes:
        below = folder / f"packages-{size}"
        below.mkdir()
        for number in range(size):
            os.link(made, below / f"{number:06d}.zip")
        command = [sys.executable, "-m", "evidence_app.cli", "verify", *sorted(os.listdir(below))]
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        ended = subprocess.run(
            command, cwd=below, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        with suppress(ChildProcessError):
            while True:
                os.wait()
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        assert ended.returncode == 0 and f"{size - 1:06d}.zip" in ended.stdout, ended.stdout[-500:]
        took = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        yield "packages checked", size, took, after.ru_maxrss / 1024
        shutil.rmtree(below)


def register(sizes: list[int], folder: Path) -> Iterator[Point]:
    """A register of so many packages: filled by SQL, opened by the desk's page, one more taken in."""
    from evidence_app.desk.intake import Desk, Intake
    from evidence_app.desk.register import Register
    from evidence_app.desk.wanted import Wanted
    from evidence_app.desk.worklist import Worklist
    from tests.making import make_package

    plain = make_package(folder / "plain").path
    more = [make_package(folder / f"more-{n}", claim=f"NQ-2027-{n:04d}").path for n in range(3)]
    for size in sizes:
        kept = Register(folder / f"register-{size}" / "register.db")
        Intake(kept, Desk("desk 2")).take(plain)
        fill(kept, size)
        lists = []

        def opens(kept=kept, lists=lists) -> None:
            lists.append(Worklist(kept))
            lists[-1].page(Wanted(waiting="undecided"), length=50)

        yield "desk opened", size, *spent(opens)
        pages = [
            spent(lambda lists=lists: lists[0].page(Wanted(waiting="undecided"), length=50))
            for _ in range(5)
        ]
        yield "one page of the desk", size, median(one for one, _ in pages), sum(mb for _, mb in pages)
        lists.clear()
        intake = Intake(kept, Desk("desk 2"))
        taken = [spent(lambda path=path, intake=intake: intake.take(path)) for path in more]
        yield "a package taken in", size, median(one for one, _ in taken) * size, sum(mb for _, mb in taken)
        shutil.rmtree(kept.path.parent)


def fill(register, rows: int) -> None:
    """``rows`` - 1 copies of the register's first package with results, observations and readings,
    each of a claim and a job of its own, every fourteenth undecided, as at a desk that keeps up."""
    with closing(sqlite3.connect(register.path)) as database, database:
        database.execute("CREATE TEMP TABLE counted AS WITH RECURSIVE c(n) AS "
                         "(SELECT 2 UNION ALL SELECT n + 1 FROM c WHERE n < ?) SELECT n FROM c WHERE ? > 1",
                         [rows, rows])  # fmt: skip
        own = {
            "content_sha256": "printf('%064x', n)", "seal_sha256": "printf('%064x', n)", "job": "'job-' || n",
            "claim": "printf('NQ-%07d', n)", "outcome": "CASE n % 7 WHEN 0 THEN 'stopped' ELSE 'completed' END",
        }  # fmt: skip
        for table, key in {"packages": "id", "results": "package", "readings": "package"}.items():
            names = [row[1] for row in database.execute(f"PRAGMA table_info({table})")]
            kept = [name for name in names if name == key or name != "id"]
            values = ["n" if name == key else own.get(name, f"t.{name}") if table == "packages" else f"t.{name}"
                      for name in kept]  # fmt: skip
            database.execute(
                f"INSERT INTO {table} ({','.join(kept)}) SELECT {','.join(values)} FROM counted, {table} t "
                f"WHERE t.{key} = 1 ORDER BY n"
            )
        database.execute(
            "INSERT INTO events (package, kind, at, by, decision, reason, body) SELECT n, 'decided', "
            "'2026-03-03T08:00:00.000+01:00', 'Clerk', 'returned', 'as agreed', '{}' FROM counted WHERE n % 14"
        )


def finished(sizes: list[int], folder: Path) -> Iterator[Point]:
    """The tablet's start among so many finished jobs."""
    from evidence_app.tablet.presenting.opening.start import job_rows
    from tests.making import make_closed_job

    made = make_closed_job(folder / "made")
    for size in sizes:
        jobs = folder / f"jobs-{size}"
        for number in range(size):
            shutil.copytree(made, jobs / f"job-{number:05d}")
        turns = [spent(lambda jobs=jobs: job_rows(jobs, folder / "packages")) for _ in range(3)]
        yield "tablet opened", size, median(one for one, _ in turns), max(mb for _, mb in turns)
        shutil.rmtree(jobs)


def index(sizes: list[int], folder: Path) -> Iterator[Point]:
    """The index of photos of 240 features each: made, and asked for one photo."""
    from evidence_app.desk.photos.features import Features
    from evidence_app.desk.photos.index import PhotoIndex
    from evidence_app.desk.register import Register

    for size in sizes:
        found = PhotoIndex(Register(folder / f"index-{size}.db"))
        found.places = lambda photos: {number: like_photo(number) for number in photos}

        before, took = _memory("VmRSS"), 0.0
        for first in range(1, size + 1, 2000):
            numbers = list(range(first, min(first + 2000, size + 1)))
            rows = [like_photo(number) for number in numbers]
            began = time.process_time()
            if first == 1:
                found._lists = found._empty(size * 240)
            found.add(numbers, rows)
            took += time.process_time() - began
        yield "photo index made", size, took, _memory("VmRSS") - before
        some = [like_photo(number, again=True) for number in range(1, size + 1, max(1, size // 10))]
        asked = [
            spent(lambda rows=rows, found=found: found.near(Features(rows, rows[:0]))) for rows in some
        ]
        yield "a photo asked for", size, median(one for one, _ in asked) * size, sum(mb for _, mb in asked)


def like_photo(number: int, again: bool = False):
    """Features as photos of one checkpoint have them: near to those that all have, a dozen bits
    apart; ``again``: the same photo saved anew, four bits of each changed."""
    import numpy as np

    from evidence_app.desk.photos.features import ROW

    common = np.random.default_rng(1).integers(0, 256, (2400, 16), dtype=np.uint8)
    chance = np.random.default_rng(number + 10)
    bits = common[chance.choice(len(common), 240, replace=False)].copy()
    for change in (chance, np.random.default_rng((number, 2))):
        flips = 12 if change is chance else 4 * again
        for _ in range(flips):
            at = change.integers(0, 128, len(bits))
            bits[np.arange(len(bits)), at // 8] ^= (1 << (at % 8)).astype(np.uint8)
    rows = np.zeros(len(bits), ROW)
    rows["bits"] = bits
    rows["x"], rows["y"], rows["angle"] = chance.random((3, len(bits)))
    rows["size"] = 0.02
    return rows


SERIES = {each.__name__: each for each in (events, photos, packages, register, finished, index)}
