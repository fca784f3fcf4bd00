"""When packages were copied to a removable disk: a line for each copy, only ever added to.

A sealed job's journal takes no entry any more, so the tablet keeps it beside the jobs.
"""

from pathlib import Path

import msgspec
from msgspec import Struct

from evidence_app import locations
from evidence_app.package.durable import storage_errors
from evidence_app.prepared import prepare
from evidence_app.system_calls import sync_file


class Copied(Struct, frozen=True):
    """``package``: its short fingerprint; ``wall``: the clock when the whole copy was read back."""

    package: str
    wall: str


def copies_path() -> Path:
    return locations.home() / "copies.jsonl"


def note_copy(package: str, wall: str) -> None:
    """Raises PackageError, StorageFull."""
    path = copies_path()
    with storage_errors(path), path.open("ab") as file:
        # The newline first: a line that a loss of power cut does not take this one with it.
        file.write(b"\n" + msgspec.json.encode(Copied(package, wall)))
        file.flush()
        sync_file(file.fileno())


def copied_when() -> dict[str, str]:
    """The day and time of the newest copy of each package; a line that was cut is passed over."""
    try:
        lines = copies_path().read_bytes().splitlines()
    except OSError:
        return {}
    newest = {}
    for line in lines:
        try:
            copied = msgspec.json.decode(line, type=Copied)
        except (msgspec.MsgspecError, UnicodeDecodeError):
            continue
        newest[copied.package] = copied.wall[:16].replace("T", " ")
    return newest


prepare(Copied)
