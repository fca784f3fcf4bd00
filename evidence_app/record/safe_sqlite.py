"""SQLite settings under which what was committed survives a power cut."""

import sqlite3
import sys

_WANTED = {
    "locking_mode": "exclusive",
    "journal_mode": "wal",
    "synchronous": 2,  # FULL: the WAL is forced to disk at every commit
    "foreign_keys": 1,
}


def set_pragmas(connection: sqlite3.Connection) -> str | None:
    """Asks for the settings. None when all were taken, else what SQLite answered for one,
    like "journal_mode = delete". Raises sqlite3.Error."""
    wanted = dict(_WANTED)
    if sys.platform == "darwin":
        wanted |= {"fullfsync": 1, "checkpoint_fullfsync": 1}
    for name, value in wanted.items():
        connection.execute(f"PRAGMA {name} = {value}")
        (answer,) = connection.execute(f"PRAGMA {name}").fetchone()
        if answer != value:
            return f"{name} = {answer}"
    return None
