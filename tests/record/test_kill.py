"""A writer killed with SIGKILL at random moments: nothing it was told is safe is ever lost."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from evidence_app.record.event import verify_chain
from evidence_app.record.record import Record

KILLS = 15

# Prints one line per thing that is safe, only after the record has returned.
WRITER = """
import os, sys
from pathlib import Path
import msgspec
from evidence_app.record.clock import SystemClock
from evidence_app.record.event import Draft
from evidence_app.record.record import Record
folder = Path(sys.argv[1])
opening = Record.open if folder.exists() else Record.create
record = opening(folder, SystemClock())
# As in a job, an event comes before the first photo: photos without any event are refused
# as the remains of a lost journal.
if not record.events:
    record.append(Draft("job-opened", {}))
# The time to the kill counts from here, however slow the machine was to open;
# a cut while opening is tried in test_power_cut.py and tests/kill.
print("ready", flush=True)
while True:
    photo = record.store(os.urandom(200_000), "image/jpeg")
    (*_, event) = record.append(Draft("photo-taken", {"photo": msgspec.to_builtins(photo)}))
    print(event.sequence, event.hash, photo.sha256, flush=True)
"""


def told_before_kill(folder: Path, seconds: float) -> list[tuple[int, str, str]]:
    """Run the writer, kill it that long after it is ready; (sequence, hash, photo) it reported."""
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, folder], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert writer.stdout.readline() == b"ready\n"
    timer = threading.Timer(seconds, writer.kill)
    timer.start()
    output, errors = writer.communicate()
    timer.join()
    assert errors == b""
    lines = [line.split() for line in output.decode().splitlines(keepends=True) if "\n" in line]
    return [(int(sequence), hash_hex, photo) for sequence, hash_hex, photo in lines]


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX")
def test_nothing_committed_is_lost_however_often_the_writer_is_killed(folder, clock):
    seed = random.randrange(2**32)
    moments = random.Random(seed)
    print(f"seed {seed}")
    told: list[tuple[int, str, str]] = []
    for _ in range(KILLS):
        told += told_before_kill(folder, moments.uniform(0.0, 0.12))
    with Record.open(folder, clock) as record:
        by_sequence = {event.sequence: event for event in record.events}
        assert verify_chain(record.events) == []
        assert record.recovered.missing == ()
        assert record.check_originals() == []
        assert len(told) > KILLS
        for sequence, hash_hex, photo in told:
            assert by_sequence[sequence].hash == hash_hex
            assert by_sequence[sequence].body["photo"]["sha256"] == photo
        aside = {
            name
            for event in record.events
            if event.kind == "record-recovered"
            for name in event.body["set_aside"]
        }
        assert aside == {path.name for path in (folder / "set-aside").iterdir()}
