"""A depot's day on a cluster: what one package costs here, and a day of them simulated from that.

    python -m tests.bench depot [--rounds 5] [--packages 100000] [--workers 6] [--json]
    python -m tests.bench depot --through 500

A package of 60 MB (15 photos of 12 megapixels) is made, sealed and put into a real object storage
on loopback, over TLS. Each round then measures, one after the other, in processor seconds of this
process: hashing its bytes, fetching it by range, checking it from the disk, checking it from the
storage with its result written there; and once, taking it in at the desk. The day is simulated
with simpy: packages come as repairs end, two fifths of them in two hours of the morning when
tablets are docked; a machine with a third of the workers is lost in that peak and comes back after
an hour, and what it had begun is begun again elsewhere.

With ``--through`` so many small packages, each with claim, photos and seal of its own, go through a
real cluster instead: into the storage over TLS, then checked by ``verify`` and taken in by the desk
on two workers over TLS, through a door that answers 503 twenty times and then slowly forty times,
and with one worker killed by SIGKILL half way; then both commands once more, which must find
nothing new.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import resource
import signal
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np
import simpy

from evidence_app.cluster.objects import Listed, list_packages, system_of
from evidence_app.cluster.results import SCHEMA, Plan, check
from evidence_app.package.verify.beside import verified
from evidence_app.package.verify.case import Asked
from tests import making
from tests.bench._figures import key_of, told
from tests.cluster.conftest import cluster_of
from tests.cluster.storage import Busy, Storage

PHOTOS = 15
HOUR = 3600.0
PEAK = (7 * HOUR, 9 * HOUR, 0.4)  # from, to, share of the day's packages
LOST = (8 * HOUR, 9 * HOUR)


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench depot")
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--packages", type=int, default=100_000)
    parser.add_argument("--workers", type=int, default=6, help="a third of them is one machine")
    parser.add_argument("--seconds", type=float, help="for one package; do not measure")
    parser.add_argument("--through", type=int, help="so many packages through a real cluster")
    options = parser.parse_args(argv)
    if options.through:
        with tempfile.TemporaryDirectory() as folder:
            return through(Path(folder), options.through)
    found: dict[str, object] = {}
    if options.seconds is None:
        with tempfile.TemporaryDirectory(dir="/dev/shm" if os.path.isdir("/dev/shm") else None) as folder:
            found = measure(Path(folder), options.rounds)
    seconds = options.seconds or found["check from storage, result written, s"]["median"]
    for name, value in (found | simulate(options.packages, options.workers, seconds)).items():
        print(f"{name}: {value}")
        _tell(name, value, options.rounds)
    return 0


def _tell(name: str, value: object, rounds: int) -> None:
    """Seconds with their spread under the name of what took them, all else under its own."""
    key = key_of(name.removesuffix(", s"))
    if not isinstance(value, dict):
        told(key, value, "s" if name.endswith(", s") else "")
    elif "from" in value:
        told(key, value["median"], "s", rounds, (value["from"], value["to"]))
    else:
        for part, each in value.items():
            _tell(f"{key}-{part}", each, 1)


def measure(folder: Path, rounds: int) -> dict[str, object]:
    """Processor seconds of each stage, bytes and requests, for one package of 60 MB."""
    package = make_package_of_60_mb(folder)
    data = package.read_bytes()
    (folder / "storage").mkdir()
    with Storage(folder / "storage"):
        system_of("s3://depot").put(str(package), "depot/in/a.zip")
        asked = Asked()
        (opened,) = list_packages(["s3://depot/in/a.zip"])
        verified(opened, asked)
        requests = 1 + opened.file.cache.miss_count
        rows: dict[str, Callable[[], object]] = {
            "hash, s": lambda: hashlib.sha256(data).digest(),
            "fetch by range, s": lambda: fetch(replace(opened)),
            "check from disk, s": lambda: verified(package, asked),
            "check from storage, s": lambda: verified(replace(opened), asked),
        }
        taken: dict[str, list[float]] = {name: [] for name in rows}
        for _ in range(rounds):
            for name, run in rows.items():
                begun = time.process_time()
                run()
                taken[name].append(time.process_time() - begun)
        begun = time.process_time()
        check(replace(opened), Plan(asked, "s3://depot/out", 600))
        written = time.process_time() - begun
        (result,) = system_of("s3://depot").find("depot/out", detail=True).values()
    stages: dict[str, object] = {
        name: {
            "median": round(statistics.median(each), 3),
            "from": round(min(each), 3),
            "to": round(max(each), 3),
        }
        for name, each in taken.items()
    }
    whole = statistics.median(taken["check from storage, s"]) + written
    return {
        "cores": os.cpu_count(),
        "package, bytes": len(data),
        "requests to read it": requests,
        "result, bytes": result["size"],
        "result, columns": len(SCHEMA),
        **stages,
        "result made and written, and the process asked, s": round(written, 3),
        "check from storage, result written, s": {"median": round(whole, 3)},
        **desk(folder, package),
    }


def through(folder: Path, count: int) -> int:
    """Whether every package came through, and what it took; 0 when all did."""
    made = folder / "made"
    with _spent("made", count):
        for number in range(count):
            taken = lambda seed, number=number: making.photo(1000 * number + seed)  # noqa: E731
            making.make_package(made / f"{number}", claim=f"NQ-{number:06}", taken=taken).path.rename(
                made / f"{number:04}.zip"
            )
    (folder / "storage").mkdir()
    lost = 0
    with Storage(folder / "storage") as storage:
        system_of("s3://depot").put(sorted(map(str, made.glob("*.zip"))), "depot/in/")
        given = ["s3://depot/in/*.zip"]
        for name, command, all_of_them, none in (
            ("checked", ["verify", "--results", "s3://depot/out"], f"{count} packages: {count} hold", ""),
            ("taken in", ["desk", "--register", str(folder / "desk" / "register.db"), "intake",
                          "--without-measuring"],
             f"{count} entered, 0 known, 0 not received", f"0 entered, {count} known, 0 not received"),
        ):  # fmt: skip
            below = folder / name.replace(" ", "-")
            below.mkdir()
            with Busy(storage, refusals=20, slow=40) as door:
                threading.Thread(target=door.serve_forever, daemon=True).start()
                with cluster_of(below, door.environment) as cluster:
                    asked = [*command, "--scheduler", cluster.scheduler, *given]
                    with _spent(name, count):
                        running = cluster.started(*asked)
                        lines = [running.stdout.readline() for _ in range(count // 2)]
                        os.kill(cluster.a_worker(), signal.SIGKILL)
                        lines += running.stdout.readlines()
                        running.wait()
                    with _spent(f"{name}, again", count):
                        again = cluster.started(*asked).communicate()[0].splitlines()
                door.shutdown()
            print(f"{name}: {lines[-1].strip()}; again: {again[-1]}")
            lost += all_of_them not in lines[-1] or none not in again[-1]
    return lost


@contextmanager
def _spent(name: str, count: int) -> Iterator[None]:
    """Tells the time and, of this process and those that ended in it, the processor seconds."""

    def now() -> float:
        return sum(
            sum(resource.getrusage(who)[:2]) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
        )

    begun, spent = time.monotonic(), now()
    yield
    took = time.monotonic() - begun
    print(f"{name}: {took:.0f} s, {took / count:.2f} s each; the desk's process {now() - spent:.1f} s")


def fetch(package: Listed) -> None:
    for at in range(0, package.size, 2**20):
        package.read_at(at, min(2**20, package.size - at))


def desk(folder: Path, package: Path) -> dict[str, object]:
    """What taking it in at the desk costs, and what it leaves in register and index."""
    from evidence_app.desk.intake import Desk, Intake
    from evidence_app.desk.register import Register

    place = folder / "desk"
    intake = Intake(Register(place / "register.db"), Desk("desk"))
    empty = sum(each.stat().st_size for each in place.rglob("*") if each.is_file())
    begun = time.process_time()
    intake.take(package)
    seconds = time.process_time() - begun
    del intake
    after = sum(each.stat().st_size for each in place.rglob("*") if each.is_file())
    return {"desk intake, s": round(seconds, 2), "register and index, bytes for it": after - empty}


def make_package_of_60_mb(folder: Path) -> Path:
    """Sharp scenes with a camera's grain, so that a JPEG of 12 MP has about 4 MB."""
    import cv2

    from evidence_app.job import commands as c
    from evidence_app.job.running.guide import Job
    from tests import making
    from tests.bench import verifying

    clock = making.QuickClock()
    arguments = (making.STEP_LIST, None, making.SERIAL, making.CLAIM, making.TECHNICIAN)
    with Job.open(folder / "job", *arguments, False, clock, making.measure_fixed) as job:
        for number in range(PHOTOS):
            chance = np.random.default_rng(number)
            scene = np.full((3000, 4000, 3), 120, np.uint8)
            for _ in range(300):
                x, y, w, h = (int(n) for n in chance.integers((0, 0, 60, 60), (3900, 2900, 600, 600)))
                cv2.rectangle(scene, (x, y), (x + w, y + h), (int(chance.integers(30, 220)),) * 3, -1)
            grain = chance.normal(0, 6.5, scene.shape[:2]).astype(np.int16)[..., None]
            scene = np.clip(scene.astype(np.int16) + grain, 0, 255).astype(np.uint8)
            picture = cv2.imencode(".jpg", scene, [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes()
            verifying._reach_photo(job, clock, picture)
            job.do(
                c.TakePhoto(picture, job.owed[0].id, "checkpoint", {"kind": "file", "name": "test camera"})
            )
        while job.owed:
            verifying._meet(job, clock, picture)
        job.do(c.Close())
    return making.seal(folder / "job", folder / "out").path


def simulate(packages: int, workers: int, seconds: float, seed: int = 1) -> dict[str, object]:
    """A day: how long packages wait and how many, with a machine lost in the peak and without."""
    return {
        f"{workers} workers, {name}": _day(packages, workers, seconds, lost, random.Random(seed))
        for name, lost in (("all day", 0), (f"{workers // 3} lost for an hour", workers // 3))
    }


def _day(
    packages: int, workers: int, seconds: float, lost: int, chance: random.Random
) -> dict[str, object]:
    world = simpy.Environment()
    # The machine that will be lost is a resource of its own: its work is interrupted, not finished.
    waiting: simpy.Store = simpy.Store(world)
    waits: list[float] = []
    again = [0]
    longest = [0]

    def arriving():
        for at in sorted(_arrival(chance) for _ in range(packages)):
            yield world.timeout(at - world.now)
            waiting.put(at)
            longest[0] = max(longest[0], len(waiting.items))

    def working():
        while True:
            came, asked = None, waiting.get()
            try:
                came = yield asked
                # Most packages are alike; a few are several times as large.
                yield world.timeout(seconds * chance.lognormvariate(-0.125, 0.5))
                waits.append(world.now - came)
            except simpy.Interrupt:
                if came is None:
                    asked.cancel()
                else:
                    again[0] += 1
                    waiting.items.insert(0, came)  # begun again elsewhere, before all others
                yield world.timeout(LOST[1] - world.now)

    def losing(machine):
        yield world.timeout(LOST[0])
        for each in machine:
            each.interrupt()

    everyone = [world.process(working()) for _ in range(workers)]
    world.process(arriving())
    world.process(losing(everyone[:lost]))
    world.run(until=36 * HOUR)
    waits.sort()
    return {
        "checked": len(waits),
        "begun again": again[0],
        "busy": round(packages * seconds / (workers * 24 * HOUR), 2),
        "from arrival to result, s, median": round(waits[len(waits) // 2], 1),
        "95 % within, s": round(waits[int(len(waits) * 0.95)]),
        "longest, s": round(waits[-1]),
        "most waiting": longest[0],
    }


def _arrival(chance: random.Random) -> float:
    begin, end, share = PEAK
    if chance.random() < share:
        return chance.triangular(begin, end)
    return chance.uniform(5 * HOUR, 22 * HOUR)
