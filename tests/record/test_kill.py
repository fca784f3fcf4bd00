"""A writer killed with SIGKILL at random moments: nothing it was told is safe is ever lost."""

from __future__ import annotations

import os
import random
import signal
import time
import traceback
from pathlib import Path

import msgspec
import pytest

from evidence_app.record.clock import SystemClock
from evidence_app.record.event import Draft, verify_chain
from evidence_app.record.record import Record

KILLS = 15


def write_until_killed(folder: Path, telling: int) -> None:
    """Writes one line per thing that is safe, only after the record has returned."""
    opening = Record.open if folder.exists() else Record.create
    record = opening(folder, SystemClock())
    # As in a job, an event comes before the first photo: photos without any event are refused
    # as the remains of a lost journal.
    if not record.events:
        record.append(Draft("job-opened", {}))
    # A cut while opening is tried in test_power_cut.py and tests/kill.
    os.write(telling, b"ready\n")
    while True:
        photo = record.store(os.urandom(200_000), "image/jpeg")
        (*_, event) = record.append(Draft("photo-taken", {"photo": msgspec.to_builtins(photo)}))
        os.write(telling, f"{event.sequence} {event.hash} {photo.sha256}\n".encode())


def told_before_kill(folder: Path, lines: int, seconds: float) -> list[tuple[int, str, str]]:
    """Kill a writer that long after it told so many; (sequence, hash, photo) that it told."""
    reading, writing = os.pipe()
    writer = os.fork()
    if writer == 0:
        try:
            write_until_killed(folder, writing)
        except BaseException:
            traceback.print_exc()
        os._exit(9)
    os.close(writing)
    told = []
    with os.fdopen(reading) as said:
        for number, line in enumerate(said):
            if number:
                sequence, hash_hex, photo = line.split()
                told.append((int(sequence), hash_hex, photo))
            if number == lines:
                time.sleep(seconds)
                os.kill(writer, signal.SIGKILL)
    assert os.waitstatus_to_exitcode(os.waitpid(writer, 0)[1]) == -signal.SIGKILL
    return told


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX")
@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # fork beside a finished thread
def test_nothing_committed_is_lost_however_often_the_writer_is_killed(folder, clock):
    seed = random.randrange(2**32)
    moments = random.Random(seed)
    print(f"seed {seed}")
    told: list[tuple[int, str, str]] = []
    for _ in range(KILLS):
        told += told_before_kill(folder, moments.randrange(5), moments.uniform(0.0, 0.03))
    with Record.open(folder, clock) as record:
        by_sequence = {event.sequence: event for event in record.events}
        assert verify_chain(record.events) == []
        assert record.missing == ()
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
