"""A full disk: clear error, nothing lost, and the same record goes on once there is space.

Each scenario runs as its own process on a real small disk: a tmpfs of 6 MiB in a private mount
namespace (root, or any user where the system allows user namespaces). Where neither is allowed
those tests are skipped, and the file size limit of the process (RLIMIT_FSIZE), which needs no
rights, still makes real writes fail.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

START = """
import json, os, sys
from pathlib import Path
from evidence_app.errors import RecordError, StorageFull
from evidence_app.record.clock import SystemClock
from evidence_app.record.event import Draft, verify_chain
from evidence_app.record.record import Record

disk = Path(sys.argv[1])
job, ballast, clock = disk / "job", disk / "ballast", SystemClock()

def fill(leave=0):
    "Write until nothing more fits, then give back ``leave`` bytes."
    with ballast.open("wb", buffering=0) as file:
        for size in (1 << 16, 1 << 10, 1):
            try:
                while True:
                    file.write(b"x" * size)
            except OSError:
                pass
        file.truncate(max(0, file.tell() - leave))

def refused(action, *values):
    try:
        action(*values)
    except StorageFull as error:
        return error.sentence()
    return "accepted"

def files(name):
    return sorted(path.name for path in (job / name).rglob("*") if path.is_file())
"""

MOUNTS = (["unshare", "--mount"], ["unshare", "--user", "--map-root-user", "--mount"])


@cache
def mount_command() -> list[str] | None:
    for command in MOUNTS if shutil.which("unshare") else ():
        trial = [*command, "mount", "-t", "tmpfs", "tmpfs", "/mnt"]
        if subprocess.run(trial, capture_output=True).returncode == 0:
            return command
    return None


def run(command: list[str | Path]) -> dict:
    answer = subprocess.run(command, capture_output=True, text=True)
    assert answer.stderr == ""
    return json.loads(answer.stdout)


@pytest.fixture
def on_small_disk(tmp_path: Path):
    """Runs a scenario on a small disk of its own; returns what it printed as JSON."""
    command = mount_command()
    if command is None:
        pytest.skip("mounting a small tmpfs is not allowed here")

    def on_disk(scenario: str) -> dict:
        mounted = 'mount -t tmpfs -o size=6m tmpfs "$1" && exec "$2" -c "$3" "$1"'
        shell = ["sh", "-c", mounted, "sh", tmp_path, sys.executable, START + scenario]
        return run([*command, *shell])

    return on_disk


def test_original_that_does_not_fit_is_refused_and_can_be_kept_later(on_small_disk):
    seen = on_small_disk("""
with Record.create(job, clock) as record:
    record.append(Draft("job-opened", {}))
    first = record.store(os.urandom(100_000), "image/jpeg")
    fill(leave=300_000)
    photo = os.urandom(1_000_000)
    sentence = refused(record.store, photo, "image/jpeg")
    left = files("originals")
    event = record.append(Draft("note-written", {"text": "meanwhile"}))
    ballast.unlink()
    second = record.store(photo, "image/jpeg")
    print(json.dumps({"sentence": sentence, "left": left, "first": first.sha256,
        "later": record.path_of(second.sha256).read_bytes() == photo, "events": len(record.events)}))
""")
    assert "disk is full" in seen["sentence"]
    assert "Free some space" in seen["sentence"]
    assert seen["left"] == [f"{seen['first']}.jpg"]
    assert seen["later"]
    assert seen["events"] == 2


def test_copied_file_that_does_not_fit_leaves_nothing_behind(on_small_disk):
    seen = on_small_disk("""
with Record.create(job, clock) as record:
    source = disk / "note.flac"
    source.write_bytes(os.urandom(2_000_000))
    fill(leave=300_000)
    sentence = refused(record.store, source, "audio/flac")
    print(json.dumps({"sentence": sentence, "left": files("originals"), "source": source.exists()}))
""")
    assert "disk is full" in seen["sentence"]
    assert seen["left"] == []
    assert seen["source"]


def test_event_that_does_not_fit_is_refused_and_those_before_stay(on_small_disk):
    seen = on_small_disk("""
with Record.create(job, clock) as record:
    fill(leave=200_000)
    text, sentence = "x" * 3000, "accepted"
    while sentence == "accepted":
        sentence = refused(record.append, Draft("note-written", {"text": text}))
    again = refused(record.append, Draft("note-written", {"text": text}))
    full = len(record.events)
    ballast.unlink()
    record.append(Draft("note-written", {"text": "after"}))
    events = record.events
with Record.open(job, clock) as record:
    print(json.dumps({"sentence": sentence, "again": again, "full": full,
        "same": record.events == events, "chain": verify_chain(record.events),
        "last": record.events[-1].body["text"], "missing": bool(record.missing)}))
""")
    assert "disk is full" in seen["sentence"]
    assert "disk is full" in seen["again"]
    assert seen["full"] > 10
    assert seen["same"]
    assert seen["chain"] == []
    assert seen["last"] == "after"
    assert not seen["missing"]


def test_record_closed_on_a_full_disk_opens_with_everything(on_small_disk):
    seen = on_small_disk("""
with Record.create(job, clock) as record:
    fill(leave=100_000)
    while refused(record.append, Draft("note-written", {"text": "x" * 3000})) == "accepted":
        pass
    events = record.events
with Record.open(job, clock, read_only=True) as record:
    read = record.events == events
ballast.unlink()
with Record.open(job, clock) as record:
    print(json.dumps({"read": read, "same": record.events == events}))
""")
    assert seen == {"read": True, "same": True}


def test_recovery_on_a_full_disk_is_refused_and_done_once_there_is_space(on_small_disk):
    seen = on_small_disk("""
with Record.create(job, clock) as record:
    record.append(Draft("job-opened", {}))
    orphan = record.store(b"no event names this", "image/jpeg").sha256
fill()
sentence = refused(Record.open, job, clock)
ballast.unlink()
with Record.open(job, clock) as record:
    print(json.dumps({"sentence": sentence, "expected": [orphan + ".jpg"],
        "aside": record.events[-1].body["set_aside"], "files": files("set-aside")}))
""")
    assert "disk is full" in seen["sentence"]
    assert seen["aside"] == seen["files"] == seen["expected"]


def test_job_that_cannot_be_created_for_lack_of_space_can_be_created_later(on_small_disk):
    seen = on_small_disk("""
fill()
sentence = refused(Record.create, job, clock)
ballast.unlink()
with Record.create(job, clock) as record:
    record.append(Draft("job-opened", {}))
    print(json.dumps({"sentence": sentence, "events": len(record.events)}))
""")
    assert "disk is full" in seen["sentence"]
    assert seen["events"] == 1


@pytest.mark.skipif(os.name != "posix", reason="RLIMIT_FSIZE is POSIX")
def test_original_beyond_the_file_size_limit_is_refused_and_the_record_goes_on(tmp_path):
    scenario = """
import resource
with Record.create(job, clock) as record:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (500_000, hard))
    sentence = refused(record.store, os.urandom(1_000_000), "image/jpeg")
    left = files("originals")
    record.append(Draft("note-written", {"text": "meanwhile"}))
    resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    size = record.store(os.urandom(1_000_000), "image/jpeg").bytes
    print(json.dumps({"sentence": sentence, "left": left, "size": size}))
"""
    seen = run([sys.executable, "-c", START + scenario, tmp_path])
    assert "disk is full" in seen["sentence"]
    assert seen["left"] == []
    assert seen["size"] == 1_000_000


@pytest.mark.skipif(os.name != "posix", reason="RLIMIT_FSIZE is POSIX")
def test_journal_at_the_file_size_limit_refuses_and_loses_nothing(tmp_path):
    scenario = """
import resource
with Record.create(job, clock) as record:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, hard))
    sentence = ""
    while not sentence:
        try:
            record.append(Draft("note-written", {"text": "x" * 3000}))
        except RecordError as error:
            sentence = error.sentence()
    resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    record.append(Draft("note-written", {"text": "after"}))
    events = record.events
with Record.open(job, clock) as record:
    print(json.dumps({"sentence": sentence, "same": record.events == events, "n": len(events)}))
"""
    seen = run([sys.executable, "-c", START + scenario, tmp_path])
    assert "journal" in seen["sentence"]
    assert seen["same"]
    assert seen["n"] > 10
