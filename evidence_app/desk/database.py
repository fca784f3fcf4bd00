"""The register's SQLite file: one owner at a time, forced to disk, brought up to date.

A lock file lets one run of the app in at a time and one connection owns the file
meanwhile, in exclusive locking mode: the SQLite releases before 3.51.3 can
corrupt a WAL database that several connections write or checkpoint at once.
Whoever needs the register takes it for a moment, not while packages are read.
"""

import os
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from filelock import FileLock, Timeout
from sqlite_utils import Database

from evidence_app.desk.schema import APPLICATION_ID, STEPS, VERSION
from evidence_app.errors import RegisterError, StorageFull
from evidence_app.language import say
from evidence_app.package.durable import part_of
from evidence_app.record.safe_sqlite import NOT_WRITABLE, is_disk_full, primary_code, set_pragmas
from evidence_app.sentence import sentences_beside
from evidence_app.system_calls import sync_file, sync_folder

_WORDS = sentences_beside(__file__)

LOCK_WAIT_S = 30.0
Told = Callable[[str], None]
_BUSY_MS = 2000
_WHOLE_FOR_S = 600.0
# Registers that were read whole and found sound: (their file's stamp, when).
_read_whole: dict[Path, tuple[tuple[int, ...], float]] = {}


@contextmanager
def writable(path: Path, wait_s: float = LOCK_WAIT_S, told: Told | None = None) -> Iterator[Database]:
    """The register for reading and writing; made or brought up to date when needed.

    ``told`` gets a sentence when an older register was brought up to date.
    Raises RegisterError when it is held by another run, damaged, not writable,
    not a register or of a newer version, StorageFull when the disk is full.
    """
    _refuse_no_register(path)
    with _trouble(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        with _only_one(path, wait_s):
            sound = _read_whole.get(path) if _is_known_whole(path) else None
            with closing(_connected(path)) as connection:
                # Before the first read, or SQLite shares the file all the same (its WAL page, section 6).
                connection.execute("PRAGMA locking_mode = exclusive")
                database = _opened(connection)
                version = _version(database, path)
                set_pragmas(database.conn, path, RegisterError)
                if version < VERSION:
                    kept = path.with_name(f"{path.stem}-version-{version}{path.suffix}")
                    if not kept.exists():
                        with _made_whole(kept) as copy:
                            database.conn.backup(copy)
                    _bring_up_to_date(database, version)
                    if told is not None:
                        told(
                            say(
                                "{path}: the register was of version {version} and is now of version {now}; "
                                "as it was, it is kept in {kept}",
                                path=path,
                                version=version,
                                now=VERSION,
                                kept=kept,
                            )
                        )
                yield database
            if sound is not None:
                _read_whole[path] = (stamp_of(path), sound[1])


@contextmanager
def readable(path: Path, wait_s: float = LOCK_WAIT_S, told: Told | None = None) -> Iterator[Database]:
    """The register for looking things up; also from a place that cannot be written to.

    An older register is brought up to date first. Raises as :func:`writable`, and
    when there is no register yet.
    """
    if not path.exists():
        raise RegisterError.worded(_WORDS["none-yet"], str(path))
    _refuse_no_register(path)
    if os.access(path, os.W_OK) and os.access(path.parent, os.W_OK):
        with writable(path, wait_s, told) as database:
            yield database
        return
    # Nobody can write there, so nothing changes under us; SQLite must be told so.
    with (
        _trouble(path),
        closing(sqlite3.connect(f"{path.resolve().as_uri()}?immutable=1", uri=True)) as connection,
    ):
        database = _opened(connection)
        if _version(database, path) < VERSION:
            raise RegisterError.worded(_WORDS["old"], str(path))
        yield database


def check_whole(path: Path, wait_s: float = LOCK_WAIT_S, told: Told | None = None) -> None:
    """Read the whole register, unless this process did so lately and it alone has written to it
    since. Raises RegisterError when it is damaged."""
    if not path.exists() or _is_known_whole(path):
        return
    with writable(path, wait_s, told) as database:
        answers = [row[0] for row in database.conn.execute("PRAGMA quick_check(3)")]
    if answers != ["ok"]:
        raise _damaged(path, "; ".join(str(answer) for answer in answers))
    _read_whole[path] = (stamp_of(path), time.monotonic())


def _is_known_whole(path: Path) -> bool:
    stamp, when = _read_whole.get(path, (None, 0.0))
    return path.exists() and stamp == stamp_of(path) and time.monotonic() - when < _WHOLE_FOR_S


def stamp_of(path: Path) -> tuple[int, ...]:
    """By what a register's file is known to be as it was."""
    found = path.stat()
    return found.st_ino, found.st_size, found.st_mtime_ns


def _refuse_no_register(path: Path) -> None:
    if path.is_dir():
        raise RegisterError.worded(_WORDS["folder"], str(path))
    if path.is_file() and not path.stat().st_size:
        raise RegisterError.worded(_WORDS["empty"], str(path))


def _connected(path: Path) -> sqlite3.Connection:
    """A connection to the register; a new one takes its place only when it has its tables."""
    if not path.exists():
        with _made_whole(path) as made:
            _bring_up_to_date(Database(made, execute_plugins=False), 0)
    return sqlite3.connect(path)


def _opened(connection: sqlite3.Connection) -> Database:
    connection.execute(f"PRAGMA busy_timeout = {_BUSY_MS}")
    return Database(connection, execute_plugins=False)


def _version(database: Database, path: Path) -> int:
    """The version of the tables. Raises RegisterError for others' files."""
    (application_id,) = database.conn.execute("PRAGMA application_id").fetchone()
    (version,) = database.conn.execute("PRAGMA user_version").fetchone()
    if application_id != APPLICATION_ID or version < 1:
        raise RegisterError.worded(_WORDS["foreign"], str(path))
    if version > VERSION:
        raise RegisterError.worded(_WORDS["newer"], str(path), version=version, VERSION=VERSION)
    return version


def _bring_up_to_date(database: Database, version: int) -> None:
    """Run the steps after ``version`` in one transaction."""
    with database.atomic():
        for step in STEPS[version:]:
            step(database)
        database.conn.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        database.conn.execute(f"PRAGMA user_version = {VERSION}")


@contextmanager
def _made_whole(final: Path) -> Iterator[sqlite3.Connection]:
    """A new database, which takes its place only when all of it is on the disk."""
    part = part_of(final)
    part.unlink(missing_ok=True)
    with closing(sqlite3.connect(part)) as made:
        yield made
    with part.open("rb+") as file:
        sync_file(file.fileno())
    os.replace(part, final)
    sync_folder(final.parent)


@contextmanager
def _only_one(path: Path, wait_s: float) -> Iterator[None]:
    lock = FileLock(path.with_name(f"{path.name}.lock"), fallback_to_soft=False)
    try:
        held = lock.acquire(timeout=wait_s)
    except Timeout:
        raise RegisterError.worded(_WORDS["held"], str(path), wait_s=wait_s) from None
    with held:
        yield


@contextmanager
def _trouble(path: Path) -> Iterator[None]:
    """Turn the errors of SQLite and of the file system into RegisterError or StorageFull."""
    try:
        yield
    except OSError as error:
        raise _not_writable(path, error.strerror or str(error)) from error
    except sqlite3.Error as error:
        primary = primary_code(error)
        if is_disk_full(error, path):
            raise StorageFull.worded(_WORDS["full"], str(path)) from error
        if primary in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise RegisterError.worded(_WORDS["locked"], str(path)) from error
        if primary in NOT_WRITABLE:
            raise _not_writable(path, str(error)) from error
        if primary in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            raise _damaged(path, str(error)) from error
        raise RegisterError.worded(_WORDS["unusable"], str(path), error=error) from error


def _not_writable(path: Path, reason: str) -> RegisterError:
    return RegisterError.worded(_WORDS["not-writable"], str(path), lower=reason.lower())


def _damaged(path: Path, reason: str) -> RegisterError:
    return RegisterError.worded(_WORDS["damaged"], str(path), reason=reason)
