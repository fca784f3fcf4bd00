"""Works a job as fast as it can until it is killed: photos, spoken and written notes.

    python -m tests.kill.worker FOLDER FIRST_NUMBER

Prints a line the moment something is committed or spoken, so that whoever kills
it knows what it had been told was safe.
"""

from __future__ import annotations

import struct
import sys
import time
from pathlib import Path

import cv2
import numpy as np

from evidence_app.job import commands as c
from evidence_app.job.running.guide import Job
from evidence_app.record.clock import SystemClock
from evidence_app.voice.note.recorder import NoteRecorder
from tests import steplists as parts

SOURCE = {"kind": "file", "name": "kill test"}
STEP_LIST = parts.step_list(
    "kill-test",
    "Look at one place",
    parts.device(),
    parts.step(
        "look",
        "Look",
        "Look at the place and photograph it.",
        parts.checkpoint(
            "Is it clear?",
            parts.photo("place", "The place"),
            not_clear='{ stop = "stopped" }',
            cannot_tell='{ stop = "stopped" }',
        ),
    ),
    parts.stop_rule(
        "stopped",
        "The technician stops.",
        "Hand the unit over.",
        more="spoken-reason = false\nnames = []\n",
    ),
    more="cautions = []\n",
).encode()
_BLOCK = 320
_BLOCK_S = 0.02
_NOTE_BLOCKS = 40


def base_photo() -> bytes:
    """A sharp, evenly lit JPEG of 2000 by 1500 that the gate passes."""
    rng = np.random.default_rng(5)
    coarse = cv2.resize(
        rng.normal(0, 1, (150, 200)).astype(np.float32), (2000, 1500), interpolation=cv2.INTER_NEAREST
    )
    picture = np.clip(128 + 40 * coarse + rng.normal(0, 4, (1500, 2000)), 20, 235)
    return cv2.imencode(".jpg", cv2.merge([picture.astype(np.uint8)] * 3))[1].tobytes()


def numbered(photo: bytes, number: int) -> bytes:
    """The same picture as another file: a JPEG comment holds the number."""
    return photo[:2] + b"\xff\xfe" + struct.pack(">HI", 6, number) + photo[2:]


def opened(folder: Path) -> Job:
    if folder.exists():
        return Job.resume(folder, SystemClock())
    return Job.open(folder, STEP_LIST, None, "H7-1", "K-1", "M. Okafor-Lind", False, SystemClock())


def main(place: str, first_number: str) -> None:
    folder, number = Path(place), int(first_number)
    photo = base_photo()
    with opened(folder) as job:
        for event in job.record.events:
            say("event", event.sequence, event.hash)
        if job.state.phase == "preparing":
            _do(job, c.GoOn())
        while True:
            number += 1
            say("number", number)
            _do(job, c.TakePhoto(numbered(photo, number), None, "note", SOURCE))
            if number % 5 == 0:
                _do(job, c.WriteNote(f"note {number}"))
            if number % 3 == 0:
                _speak(job)


def _speak(job: Job) -> None:
    started = _do(job, c.StartNote())[-1]
    note = started.body["note"]
    instant = {"wall": started.wall, "mono_us": started.mono_us, "boot": started.boot}
    recorder = NoteRecorder(job.record.scratch, note, started.step, None, instant)
    rng = np.random.default_rng(started.sequence)
    begun = time.monotonic()
    for block in range(_NOTE_BLOCKS):
        recorder.write((rng.normal(0, 3000, _BLOCK)).astype(np.int16))
        say("spoken", note, (block + 1) * _BLOCK_S)
        time.sleep(max(0.0, begun + (block + 1) * _BLOCK_S - time.monotonic()))
    done = recorder.finish()
    _do(job, c.FinishNote(note, done.flac, done.seconds, done.dropouts, done.cut_short))


def _do(job: Job, command: c.Command):
    events = job.do(command)
    for event in events:
        say("event", event.sequence, event.hash)
    return events


def say(*words: object) -> None:
    print(*words, flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
