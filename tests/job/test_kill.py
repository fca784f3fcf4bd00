"""A job killed at random moments of fast work loses nothing that it had told of.

The worker is a process of its own on the machine's clock; SIGKILL gives it no
chance to tidy up.
"""

import random
import subprocess
import sys
import time
from pathlib import Path

from evidence_app.job.guide import Job
from evidence_app.job.replay import check_conduct
from evidence_app.record.clock import SystemClock
from evidence_app.record.event import verify_chain

KILLS = 6

WORKER = """
import sys
from pathlib import Path
import numpy as np
from evidence_app.errors import Refused
from evidence_app.job import commands as c
from evidence_app.job.guide import Job
from evidence_app.record.clock import SystemClock
from evidence_app.voice.recorder import NoteRecorder
from tests.job.bench import STEP_LIST, Photos

folder, round = Path(sys.argv[1]), int(sys.argv[2])
if folder.exists():
    job = Job.resume(folder, SystemClock())
else:
    job = Job.open(folder, STEP_LIST, "plain", "H7-0001", "C-77", "M. Okafor-Lind", True,
                   SystemClock())
picture = Photos().sharp()
source = {"kind": "practice", "name": "bench camera"}

def tell(events):
    for event in events:
        print(event.sequence, event.hash, flush=True)

tell(job.record.events)
for owed in job.owed if job.state.phase == "preparing" else ():
    known = c.AcknowledgeCaution(owed.id) if owed.kind == "caution" else c.TickItem(owed.list, owed.id)
    tell(job.do(known))
if job.state.phase == "preparing":
    tell(job.do(c.GoOn()))
number = 0
while True:
    number += 1
    tell(job.do(c.TakePhoto(picture + b"%d %d" % (round, number), None, "note", source)))
    started = job.do(c.StartNote())
    tell(started)
    note = started[-1].body["note"]
    recorder = NoteRecorder(job.record.scratch, note, job.state.step, None, {})
    recorder.write(np.ones(4000, np.int16))
    done = recorder.finish()
    tell(job.do(c.FinishNote(note, done.flac, done.seconds)))
    tell(job.do(c.GoBack() if job.state.step == "clean" else c.GoOn()))
"""


def run_and_kill(folder: Path, round_number: int, after_s: float) -> dict[int, str]:
    """Sequence and hash of every event that the worker told of before it was killed."""
    worker = subprocess.Popen(
        [sys.executable, "-c", WORKER, str(folder), str(round_number)],
        stdout=subprocess.PIPE, cwd=Path(__file__).parents[2], text=True,
    )  # fmt: skip
    first = worker.stdout.readline()
    time.sleep(after_s)
    worker.kill()
    lines = (first + worker.communicate()[0]).splitlines(keepends=True)
    whole = [line.split() for line in lines if line.endswith("\n")]
    return {int(sequence): hash_hex for sequence, hash_hex in whole}


def test_nothing_told_of_is_lost(tmp_path):
    chance = random.Random(20260302)
    folder = tmp_path / "job"
    told: dict[int, str] = {}
    for round_number in range(KILLS):
        told |= run_and_kill(folder, round_number, chance.uniform(0, 0.4))
        with Job.resume(folder, SystemClock()) as job:
            events = {event.sequence: event.hash for event in job.record.events}
            assert told and told.items() <= events.items()
            assert verify_chain(job.record.events) == []
            assert job.record.check_originals() == []
            breaches = check_conduct(job.step_list, job.record.events)
            assert [breach for breach in breaches if breach.sequence is not None] == []
            told = events
