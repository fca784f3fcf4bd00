"""SQLite settings under which what was committed survives a power cut."""

import sqlite3
import sys
from pathlib import Path

from evidence_app.errors import EvidenceError
from evidence_app.sentence import sentence

_WANTED = {
    "locking_mode": "exclusive",
    "journal_mode": "wal",
    "synchronous": 2,  # FULL: the WAL is forced to disk at every commit
    "foreign_keys": 1,
}


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
