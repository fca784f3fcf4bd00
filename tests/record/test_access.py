"""Two runs of the app on one job, and folders the app may not write."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from evidence_app.errors import JobInUse
from evidence_app.record.event import Draft
from evidence_app.record.record import Record

HOLDER = """
import sys, time
from pathlib import Path
from evidence_app.record.clock import SystemClock
from evidence_app.record.record import Record
record = Record.open(Path(sys.argv[1]), SystemClock())
print("open", flush=True)
time.sleep(3600)
"""

# A record is made first with all rights: the unprivileged user may not be able to read the
# interpreter's folder, and modules are still imported on first use.
VISITOR = """
import os, sys, tempfile
from pathlib import Path
from evidence_app.errors import RecordError
from evidence_app.record.clock import SystemClock
from evidence_app.record.event import Draft
from evidence_app.record.record import Record
folder, action, clock = Path(sys.argv[1]), sys.argv[2], SystemClock()
with tempfile.TemporaryDirectory() as warm:
    with Record.create(Path(warm) / "job", clock) as record:
        record.append(Draft("job-opened", {}))
    Record.open(Path(warm) / "job", clock, read_only=True).close()
if os.getuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
try:
    if action == "create":
        Record.create(folder / "new", clock)
    elif action == "write":
        Record.open(folder, clock)
    else:
        with Record.open(folder, clock, read_only=True) as record:
            print(len(record.events), "events")
except RecordError as error:
    print(type(error).__name__, error.sentence())
"""


@pytest.fixture
def job(folder, clock) -> Path:
    with Record.create(folder, clock) as record:
        record.append(Draft("job-opened", {}))
    return folder


@pytest.fixture
def holder(job):
    process = subprocess.Popen([sys.executable, "-c", HOLDER, job], stdout=subprocess.PIPE)
    assert process.stdout.readline() == b"open\n"
    yield process
    process.kill()
    process.wait()


@pytest.mark.parametrize("read_only", [False, True])
def test_second_process_is_told_which_one_has_the_job(job, clock, holder, read_only):
    with pytest.raises(JobInUse) as caught:
        Record.open(job, clock, read_only)
    assert f"process {holder.pid}" in caught.value.sentence()
    assert str(job) in caught.value.sentence()


def test_asking_again_still_names_the_holder(job, clock, holder):
    for _ in range(3):
        with pytest.raises(JobInUse, match=f"process {holder.pid}"):
            Record.open(job, clock)


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX")
def test_job_is_free_when_its_process_was_killed(job, clock, holder):
    holder.send_signal(signal.SIGKILL)
    holder.wait()
    with Record.open(job, clock) as record:
        assert len(record.events) == 1


def test_same_process_cannot_open_a_job_twice(record, clock):
    with pytest.raises(JobInUse):
        Record.open(record.folder, clock)


def test_refused_opening_does_not_disturb_the_holder(record, clock):
    with pytest.raises(JobInUse):
        Record.open(record.folder, clock)
    record.append(Draft("note-written", {"text": "still here"}))


def test_closing_frees_the_job(job, clock):
    for _ in range(2):
        Record.open(job, clock).close()


@pytest.fixture
def foreign_job(clock):
    """A job that another user may read and not write, its last event only in the log."""
    with tempfile.TemporaryDirectory() as outer:
        os.chmod(outer, 0o755)
        folder = Path(outer) / "job"
        with Record.create(folder, clock) as record:
            record.append(Draft("job-opened", {}))
            left = subprocess.run(["cp", "-r", folder, Path(outer) / "left"], check=True)
            assert left.returncode == 0
        left_open = Path(outer) / "left"
        if os.getuid() != 0:
            subprocess.run(["chmod", "-R", "a-w", left_open], check=True)
        yield left_open
        subprocess.run(["chmod", "-R", "u+w", left_open], check=True)


def visit(folder: Path, action: str) -> str:
    answer = subprocess.run([sys.executable, "-c", VISITOR, folder, action], capture_output=True, text=True)
    assert answer.stderr == ""
    return answer.stdout


@pytest.mark.skipif(os.name != "posix", reason="uses POSIX permissions")
@pytest.mark.parametrize("action", ["create", "write"])
def test_folder_without_write_permission_is_a_clear_error(foreign_job, action):
    answer = visit(foreign_job, action)
    assert answer.startswith("RecordError")
    assert str(foreign_job) in answer
    assert "permission" in answer


@pytest.mark.skipif(os.name != "posix", reason="uses POSIX permissions")
def test_folder_without_write_permission_can_be_read(foreign_job):
    assert visit(foreign_job, "read") == "1 events\n"
