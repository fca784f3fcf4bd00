"""The journal's SQLite file: append-only rows, one transaction each, forced to disk.

One connection owns the file while a job is open, in exclusive locking mode: the
SQLite releases before 3.51.3 can corrupt a WAL database that several
connections write at once, and without sharing there is no shared-memory file
that a full disk could break. Reading before that goes through a copy, so that a
damaged journal is left exactly as it was found.
"""

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from sqlite_utils import Database

from evidence_app.errors import RecordError
from evidence_app.record.durable import storage_full, storage_trouble
from evidence_app.record.safe_sqlite import NOT_WRITABLE, is_disk_full, primary_code, set_pragmas
from evidence_app.sentence import Sentence, sentence, sentences_beside
from evidence_app.system_calls import sync_file, sync_folder

_WORDS = sentences_beside(__file__)

FILE_NAME = "journal.db"
UNFINISHED_NAME = "journal.db.new"

# "EvJ1" as a 32-bit number, so that another application's SQLite file is told apart.
_APPLICATION_ID = 0x45764A31
_VERSION = 1

_GUARDS = """
CREATE TRIGGER events_are_not_changed BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;
CREATE TRIGGER events_are_not_deleted BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;
CREATE TRIGGER events_are_numbered_in_order BEFORE INSERT ON events
WHEN NEW.sequence IS NOT (SELECT COALESCE(MAX(sequence), 0) + 1 FROM events)
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;
"""

Row = tuple[int, bytes, str]


class Journal:
    """The open journal of one job; the caller serialises access."""

    def __init__(self, path: Path) -> None:
        """Open an existing journal for appending. Raises RecordError, StorageFull."""
        self._path = path
        with _sqlite_trouble(path):
            connection = sqlite3.connect(
                f"{path.resolve().as_uri()}?mode=rw", uri=True, check_same_thread=False
            )
            try:
                self._database = Database(connection, execute_plugins=False)
                set_pragmas(self._database.conn, path, RecordError)
            except BaseException:
                connection.close()
                raise

    def append(self, sequence: int, canonical_bytes: bytes, hash_hex: str) -> None:
        """Commit one event; it is on the disk when this returns, or nothing of it is."""
        with _sqlite_trouble(self._path), self._database.atomic():
            self._database.table("events").insert(
                {"sequence": sequence, "line": canonical_bytes, "hash": hash_hex}
            )

    def close(self) -> None:
        with _sqlite_trouble(self._path):
            self._database.close()


def create(folder: Path) -> None:
    """Make an empty journal in ``folder``; it has its final name only once it is whole."""
    unfinished = folder / UNFINISHED_NAME
    unfinished.unlink(missing_ok=True)
    with storage_trouble(folder), _sqlite_trouble(unfinished):
        with closing(sqlite3.connect(unfinished)) as connection:
            database = Database(connection, execute_plugins=False)
            set_pragmas(database.conn, unfinished, RecordError)
            database.table("events").create(
                {"sequence": int, "line": bytes, "hash": str},
                pk="sequence",
                not_null={"line", "hash"},
                strict=True,
            )
            connection.executescript(_GUARDS)
            connection.execute(f"PRAGMA application_id = {_APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {_VERSION}")
        with unfinished.open("rb+") as file:
            sync_file(file.fileno())
        unfinished.rename(folder / FILE_NAME)
        sync_folder(folder)


def inspect(folder: Path) -> tuple[list[Row], list[Sentence]]:
    """Read a journal without touching it: (rows that can be read, problems in sentences).

    Raises RecordError when there is no journal or it may not be read.
    """
    path = folder / FILE_NAME
    wal = path.with_name(path.name + "-wal")
    with storage_trouble(path):
        if not path.is_file():
            raise RecordError.worded(_WORDS["none"], str(folder), name=FILE_NAME)
        path.open("rb").close()
        if not (wal.exists() and wal.stat().st_size):
            return _read_all(f"{path.resolve().as_uri()}?immutable=1")
    with storage_trouble(tempfile.gettempdir()), tempfile.TemporaryDirectory() as copy_folder:
        copy = Path(copy_folder) / FILE_NAME
        shutil.copyfile(path, copy)
        shutil.copyfile(wal, copy.with_name(copy.name + "-wal"))
        return _read_all(copy.as_uri())


def _read_all(uri: str) -> tuple[list[Row], list[Sentence]]:
    rows: list[Row] = []
    try:
        with closing(sqlite3.connect(uri, uri=True)) as connection:
            (application_id,) = connection.execute("PRAGMA application_id").fetchone()
            (version,) = connection.execute("PRAGMA user_version").fetchone()
            if (application_id, version) != (_APPLICATION_ID, _VERSION):
                known = {"file": FILE_NAME, "version": _VERSION}
                return rows, [sentence("{file} is not a journal of this app's format {version}", **known)]
            for row in connection.execute("SELECT sequence, line, hash FROM events ORDER BY sequence"):
                rows.append(row)
    except sqlite3.DatabaseError as error:
        found = {"file": FILE_NAME, "sequence": len(rows), "error": error}
        return rows, [sentence("{file} is damaged after event {sequence} ({error})", **found)]
    return rows, []


@contextmanager
def _sqlite_trouble(path: Path) -> Iterator[None]:
    """Turn SQLite's errors inside the block into RecordError or StorageFull."""
    try:
        yield
    except sqlite3.Error as error:
        if is_disk_full(error, path):
            raise storage_full(path) from error
        if primary_code(error) in NOT_WRITABLE:
            raise RecordError.worded(_WORDS["not-writable"], str(path), error=error) from error
        raise RecordError.worded(_WORDS["unusable"], str(path), problem=error) from error
