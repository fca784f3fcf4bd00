"""A disk or a clock that fails under a job at its n-th call; what is left is judged.

The fault is made in the worker's own process by a small library that the linker loads before
the system's (ld.so(8), LD_PRELOAD), so that Python and SQLite meet it alike. Linux with a C
compiler only.
"""

from __future__ import annotations

import os
import subprocess
import sys
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from msgspec import Struct

from evidence_app.errors import RecordError
from tests.kill.killing import Left, Told, judge

SOURCE = Path(__file__).with_name("fault.c")

# The night in which summer time ends in Europe/Berlin: 02:59:58 is followed by 02:00:00.
_SUMMER_ENDS = 1792889998  # 2026-10-25T00:59:58Z

FAULTS = {
    "disk full from a write on": ("full", range(3, 90, 6)),
    "one write fails (EIO)": ("io", range(3, 90, 6)),
    "one fsync fails (EIO)": ("sync", range(1, 40, 3)),
    "torn write, then the power is gone": ("torn", range(3, 90, 6)),
    "disk read-only from a write on": ("ro", range(3, 90, 6)),
    "disk unplugged from a write on, put back": ("gone", range(3, 90, 6)),
    "wall clock set back by an hour": ("back", range(2, 14, 2)),
    "summer time ends": ("at", (0,)),
}


class Outcome(Struct):
    """``said`` is what the worker told when it ended, empty when it met nothing; ``left`` is
    None where the job was not even opened, and nothing was told safe."""

    told: Told
    said: str
    traceback: bool
    left: Left | None

    @property
    def lost(self) -> list[str]:
        if self.left is None:
            return list(map(str, self.told.events))
        return [*self.left.lost_events, *self.left.chain, *self.left.damaged]


def run(folder: Path, fault: str, at: int) -> Outcome:
    """One life of the worker under a fault, then judged without it."""
    job = folder / "job"
    told = Told()
    environment = os.environ | {
        "LD_PRELOAD": str(library()),
        "FAULT": fault,
        "FAULT_AT": str(at),
        "FAULT_UNDER": str(job.resolve()),
        "FAULT_TIME": str(_SUMMER_ENDS),
        "TZ": "Europe/Berlin",
    }
    command = [sys.executable, "-m", "tests.kill.some_work", str(job)]
    done = subprocess.run(command, env=environment, capture_output=True, text=True)
    for line in done.stdout.splitlines(keepends=True):
        told.hear(line)
    said = done.stderr.strip()
    try:
        left = judge(job, folder / "out", told)
    except RecordError as error:
        left, said = None, f"{said} {error.sentence()}"
    return Outcome(told, said, "Traceback" in said, left)


@cache
def library() -> Path:
    """The compiled library. Raises CalledProcessError or FileNotFoundError without a compiler."""
    made = Path(mkdtemp(prefix="fault-")) / "fault.so"
    subprocess.run(["cc", "-shared", "-fPIC", "-O1", "-o", str(made), str(SOURCE), "-ldl"], check=True)
    return made
