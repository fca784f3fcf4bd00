"""Kills a worker at random moments, takes the job up each time, and judges what is left."""

from __future__ import annotations

import random
import signal
import sys
import time
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from msgspec import Struct, field

from evidence_app.job import commands as c
from evidence_app.job.running.guide import Job
from evidence_app.job.running.opening import standing
from evidence_app.package.keys.signing_key import SigningKey
from evidence_app.package.seal import seal_job
from evidence_app.package.verify.check import verify
from evidence_app.package.verify.result import VerifyResult
from evidence_app.record.clock import SystemClock
from evidence_app.record.event import verify_chain
from evidence_app.record.record import Record
from tests.kill.worker import SOURCE, base_photo, numbered
from tests.nursery import Nursery

_MOST_LINES = 120
_LONGEST_AFTER_S = 0.05
_NOTE_MAY_LOSE_S = 1.0


class Told(Struct):
    """What the workers said was safe before they were killed."""

    events: dict[int, str] = field(default_factory=dict)
    spoken: dict[str, float] = field(default_factory=dict)
    number: int = 0
    kills: int = 0
    contradictions: list[str] = field(default_factory=list)

    def hear(self, line: str) -> None:
        words = line.split()
        if words[0] == "event":
            sequence, digest = int(words[1]), words[2]
            if self.events.setdefault(sequence, digest) != digest:
                self.contradictions.append(f"event {sequence} changed")
        elif words[0] == "spoken":
            self.spoken[words[1]] = float(words[2])
        elif words[0] == "number":
            self.number = int(words[1])


def kill_often(folder: Path, times: int, seed: int) -> Told:
    """Runs the worker ``times`` times in ``folder``, SIGKILL at a random moment of its work each:
    so many lines that it told anew, and a little later."""
    told, nursery = Told(), Nursery("tests.kill.worker")
    dice = random.Random(seed)
    for _ in range(times):
        _one_life(nursery, folder, told, dice.randrange(_MOST_LINES), dice.uniform(0.0, _LONGEST_AFTER_S))
        told.kills += 1
    nursery.end()
    return told


def _one_life(nursery: Nursery, folder: Path, told: Told, lines: int, seconds: float) -> None:
    # Counted in what it did, so that a busy machine gets as much done; where it is least, the
    # kill falls on the opening itself.
    worker = nursery.begin("tests.kill.worker", folder, told.number)
    new, before = 0, len(told.events)
    for line in worker:
        told.hear(line)
        new += line.startswith("spoken") or len(told.events) > before
        if new >= lines:
            time.sleep(seconds)
            worker.kill()
            lines = sys.maxsize
    if worker.ended != -signal.SIGKILL:
        raise AssertionError(f"the worker ended by itself: {worker.ended}")


class Left(Struct):
    """What is left after all kills, closed and sealed."""

    lost_events: list[str]
    chain: list[str]
    damaged: list[str]
    short_notes: list[str]
    verified: VerifyResult
    events: int
    photos: int
    notes: int
    seconds: float


def judge(folder: Path, out: Path, told: Told) -> Left:
    """Takes the job up a last time, finishes and seals it, and compares with what was told."""
    begun = time.monotonic()
    with Job.resume(folder, SystemClock()) as job:
        if job.state.phase == "preparing":
            job.do(c.GoOn())
        job.do(c.TakePhoto(numbered(base_photo(), 0), "place", "checkpoint", SOURCE))
        job.do(c.GiveFinding("clear"))
        job.do(c.Close())
    with Record.open(folder, SystemClock()) as record:
        events = record.events
        by_sequence = {event.sequence: event.hash for event in events}
        lost = [f"event {n}" for n, digest in told.events.items() if by_sequence.get(n) != digest]
        damaged = record.check_originals()
        seconds = {e.body["note"]: e.body["seconds"] for e in events if e.kind == "note-recorded"}
        short = [
            f"{note}: {said} s said, {seconds.get(note, 0.0)} s kept"
            for note, said in told.spoken.items()
            if seconds.get(note, 0.0) < said - _NOTE_MAY_LOSE_S
        ]
        key = SigningKey(Ed25519PrivateKey.generate())
        sealed = seal_job(record, standing(record)[0], key, out)
    return Left(
        lost_events=lost + told.contradictions,
        chain=verify_chain(events),
        damaged=damaged,
        short_notes=short,
        verified=verify(sealed.path),
        events=len(events),
        photos=sum(e.kind == "photo-taken" for e in events),
        notes=len(seconds),
        seconds=time.monotonic() - begun,
    )
