"""What is forced to the disk, and in which order, seen from the operating system by strace.

SIGKILL cannot show this: the system keeps a killed process's writes, a power cut does not.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

SCENARIO = """
import sys
from pathlib import Path
import msgspec
from evidence_app.record.clock import SystemClock
from evidence_app.record.event import Draft
from evidence_app.record.record import Record
with Record.create(Path(sys.argv[1]), SystemClock()) as record:
    print("created", flush=True)
    photo = record.store(b"the exact bytes", "image/jpeg")
    print("stored", flush=True)
    record.append(Draft("photo-taken", {"photo": msgspec.to_builtins(photo)}))
    print("committed", flush=True)
"""


def strace_works() -> bool:
    if not shutil.which("strace"):
        return False
    return subprocess.run(["strace", "-o", "/dev/null", "true"], capture_output=True).returncode == 0


@pytest.fixture(scope="module")
def calls(tmp_path_factory) -> list[str]:
    """File-system calls inside the job's folder in order, and what was printed between them."""
    if not strace_works():
        pytest.skip("needs strace and the right to trace a process")
    outer = tmp_path_factory.mktemp("traced")
    job, trace = outer / "job", outer / "trace"
    wanted = "trace=write,pwrite64,fsync,fdatasync,rename,renameat,renameat2"
    subprocess.run(
        ["strace", "-f", "-y", "-e", wanted, "-o", trace, sys.executable, "-c", SCENARIO, job],
        check=True,
        capture_output=True,
    )
    return [_shortened(line, job) for line in trace.read_text().splitlines()]


def _shortened(line: str, job: Path) -> str:
    """``fsync originals/incoming``, ``rename originals/…``, ``print stored``."""
    printed = re.search(r'write\(1<[^>]*>, "(\w+)(?:\\n)?"', line)
    if printed:
        return f"print {printed[1]}"
    call = re.search(r"(\w+)\(", line)
    inside = re.search(re.escape(str(job)) + r'(/[^>"]*)?[>"]', line)
    if not call or not inside:
        return "other"
    name = "fsync" if call[1] == "fdatasync" else re.sub(r"at2?$", "", call[1])
    return f"{name} {(inside[1] or '/')[1:] or '.'}"


def place(calls: list[str], pattern: str, after: int = -1) -> int:
    """Where the next call of this form stands; fails when there is none."""
    found = [n for n, call in enumerate(calls) if n > after and re.fullmatch(pattern, call)]
    assert found, f"no {pattern} in {calls[after + 1 :]}"
    return found[0]


def test_new_job_is_on_the_disk_before_create_returns(calls):
    made = place(calls, "print created")
    journal = place(calls, r"fsync journal\.db\.new")
    renamed = place(calls, r"rename journal\.db\.new", journal)
    assert place(calls, r"fsync \.", renamed) < made


def test_original_is_on_the_disk_under_its_name_before_store_returns(calls):
    begun, stored = place(calls, "print created"), place(calls, "print stored")
    content = place(calls, r"fsync originals/incoming-\w+", begun)
    renamed = place(calls, r"rename originals/incoming-\w+", content)
    folder = place(calls, r"fsync originals/[0-9a-f]{2}", renamed)
    new_folder = place(calls, r"fsync originals", renamed)
    assert max(folder, new_folder) < stored


def test_event_is_on_the_disk_before_append_returns(calls):
    begun, committed = place(calls, "print stored"), place(calls, "print committed")
    last_write = begun + max(
        n for n, call in enumerate(calls[begun:committed]) if call == "pwrite64 journal.db-wal"
    )
    assert place(calls, r"fsync journal\.db-wal", last_write) < committed
