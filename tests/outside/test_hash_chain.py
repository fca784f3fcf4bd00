"""The journal's chain recomputed without any of the app's code.

Source: the project's own format, ``SHA-256(previous hash as 64 ASCII characters || canonical
bytes of the event)`` from 64 zeros; recomputed with hashlib and byte slicing, and with the
sha256sum tool of GNU coreutils in a shell.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
from pathlib import Path

import pytest

from evidence_app.record.clock import SystemClock
from evidence_app.record.event import Draft
from evidence_app.record.record import Record

SHELL_CHECK = r"""
export LC_ALL=C
previous=$(printf '0%.0s' $(seq 64))
while IFS= read -r line; do
    event=${line#'{"event":'}
    event=${event%',"hash":"'*}
    stated=${line: -66:64}
    previous=$(printf '%s%s' "$previous" "$event" | sha256sum | cut -c1-64)
    [ "$previous" = "$stated" ] || { echo "broken"; exit 1; }
done < "$1"
echo "$previous"
"""


def recomputed_head(journal: bytes) -> str:
    previous = "0" * 64
    for line in journal.splitlines():
        event, stated = (line[len(b'{"event":') : -len(b',"hash":""}') - 64], json.loads(line)["hash"])
        assert json.loads(event) == json.loads(line)["event"]
        previous = hashlib.sha256(previous.encode() + event).hexdigest()
        if previous != stated:
            raise ValueError("broken")
    return previous


def shell_head(path: Path) -> str:
    answer = subprocess.run(["bash", "-c", SHELL_CHECK, "check", path], capture_output=True, text=True)
    return answer.stdout.strip()


@pytest.fixture
def journal(tmp_path: Path) -> tuple[Path, str]:
    """journal.jsonl of six events with awkward text, and the head the record states."""
    texts = ["plain", 'quote " and \\ backslash', "two\nlines", "Müller € 😀", ',"hash":"', "%s $HOME"]
    with Record.create(tmp_path / "job", SystemClock()) as record:
        for text in texts:
            record.append(Draft("note-written", {"text": text, "photo": None}, step="look"))
        path = tmp_path / "journal.jsonl"
        path.write_bytes(b"".join(record.journal_lines()))
        return path, record.head


def test_ten_lines_of_hashlib_arrive_at_the_same_head(journal):
    path, head = journal
    assert recomputed_head(path.read_bytes()) == head


def test_ten_lines_of_hashlib_see_an_altered_event(journal):
    path, _ = journal
    with pytest.raises(ValueError, match="broken"):
        recomputed_head(path.read_bytes().replace(b"plain", b"plane"))


needs_shell = pytest.mark.skipif(
    not (shutil.which("bash") and shutil.which("sha256sum")), reason="needs bash and sha256sum"
)


@needs_shell
def test_sha256sum_arrives_at_the_same_head(journal):
    path, head = journal
    assert shell_head(path) == head


@needs_shell
def test_sha256sum_sees_an_altered_event(journal):
    path, _ = journal
    path.write_bytes(path.read_bytes().replace(b"plain", b"plane"))
    assert shell_head(path) == "broken"
