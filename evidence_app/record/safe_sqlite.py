"""SQLite settings under which what was committed survives a power cut."""

import shutil
import sqlite3
import sys
from contextlib import suppress
from pathlib import Path

from evidence_app.errors import EvidenceError
from evidence_app.sentence import sentence

_WANTED = {
    "locking_mode": "exclusive",
    "journal_mode": "wal",
    "synchronous": 2,  # FULL: the WAL is forced to disk at every commit
    "foreign_keys": 1,
}


# Less free space than this and an input/output error is taken as a full disk: some file
# systems report lack of space only when a file is forced to disk, which SQLite calls an I/O error.
_NO_SPACE_BYTES = 64 * 1024

NOT_WRITABLE = (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM)


def primary_code(error: sqlite3.Error) -> int:
    """SQLite's primary result code; 0 for an error that is not SQLite's own."""
    return (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF


def is_disk_full(error: sqlite3.Error, path: Path) -> bool:
    """Whether there was no room for the file at ``path``."""
    if primary_code(error) == sqlite3.SQLITE_IOERR:
        with suppress(OSError):
            return shutil.disk_usage(path.parent).free < _NO_SPACE_BYTES
    return primary_code(error) == sqlite3.SQLITE_FULL


def set_pragmas(connection: sqlite3.Connection, path: Path, error: type[EvidenceError]) -> None:
    """Asks for the settings. Raises ``error`` naming ``path`` with what SQLite answered when one
    was not taken, like "journal_mode = delete"; sqlite3.Error."""
    wanted = dict(_WANTED)
    if sys.platform == "darwin":
        wanted |= {"fullfsync": 1, "checkpoint_fullfsync": 1}
    for name, value in wanted.items():
        connection.execute(f"PRAGMA {name} = {value}")
        (answer,) = connection.execute(f"PRAGMA {name}").fetchone()
        if answer != value:
            raise error(
                sentence(
                    "nothing can be kept safely here: SQLite answers {refused}",
                    refused=f"{name} = {answer}",
                ),
                where=str(path),
                remedy=sentence("use a local disk with an ordinary file system"),
            )
