"""The tables of the register, version by version, and their guards.

Every row is written once. What happens to a package later (received again,
decided on, checked again, countersigned) is a row of its own, so the database
itself refuses to change or delete anything but the list derived from them.
"""

from collections.abc import Callable, Iterable
from pathlib import Path

from sqlite_utils import Database

# "EvR1" as a 32-bit number, so that another application's SQLite file is told apart.
APPLICATION_ID = 0x45765231

_APPEND_ONLY = """
CREATE TRIGGER {table}_are_not_changed BEFORE UPDATE ON {table}
BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
CREATE TRIGGER {table}_are_not_deleted BEFORE DELETE ON {table}
BEGIN SELECT RAISE(ABORT, 'the register is append-only'); END;
"""

# content_sha256 names the package by everything in it but a time token; the rest is
# what its seal and journal say, NULL where nothing could be read.
_PACKAGES = (
    "id:int content_sha256 kind name bytes:int received_at unreadable seal_sha256 job claim serial "
    "technician outcome practice:int family model variant step_list step_list_version opened_at "
    "closed_at closed_utc fingerprint device_key_sha256 stop_rule stop_by stop_step stop_reason "
    "disposition owed_but_missing:int clock_notes:int"
)


def _first(database: Database) -> None:
    """Version 1: packages, results, events, readings and words."""
    _create(database, "packages", _PACKAGES, {"content_sha256", "kind", "name", "received_at"})
    database.table("packages").create_index(["content_sha256"], unique=True)
    for column in ("serial", "claim", "technician", "outcome", "job", "closed_utc", "seal_sha256"):
        database.table("packages").create_index([column])
    columns = "id:int package:int at app exit_status:int overall key_list json"
    _create(database, "results", columns, {"package", "at", "app", "overall", "json"}, package="packages")
    columns = "id:int package:int kind at by decision reason body"
    _create(database, "events", columns, {"package", "kind", "at", "by", "body"}, package="packages")
    readings = "id:int package:int reading name value unit"
    _create(database, "readings", readings, {"package", "reading", "value"}, package="packages")
    words = "id:int package:int source text"
    _create(database, "words", words, {"package", "source", "text"}, package="packages")
    for table in ("results", "events", "readings", "words"):
        database.table(table).create_index(["package"])
    database.table("words").enable_fts(
        ["text"], create_triggers=True, tokenize="unicode61 remove_diacritics 2"
    )
    _guard(database, "packages", "results", "events", "readings", "words")


def _second(database: Database) -> None:
    """Version 2: photos with their perceptual hash, and where one was found again."""
    columns = "id:int package:int sequence:int step wanted purpose sha256 path pdq:bytes quality:int"
    _create(database, "photos", columns, {"package", "sha256", "path", "quality"}, package="packages")
    database.table("photos").create_index(["package"])
    database.table("photos").create_index(["sha256"])
    columns = "id:int photo:int earlier:int verdict distance:int turned agreement:float sentence"
    _create(
        database,
        "reused",
        columns,
        {"photo", "earlier", "verdict", "sentence"},
        photo="photos",
        earlier="photos",
    )
    database.table("reused").create_index(["photo"])
    database.table("reused").create_index(["earlier"])
    _guard(database, "photos", "reused")


def _third(database: Database) -> None:
    """Version 3: the hash of each photo's middle, NULL where there is too little in it."""
    _create(database, "middles", "photo:int pdq:bytes", photo="photos")
    _guard(database, "middles")


def _fourth(database: Database) -> None:
    """Version 4: the features of each photo, NULL where there is too little in it. They take the
    place of both hashes, which stay as they are and are not written any more."""
    _create(database, "features", "photo:int rows:bytes", photo="photos")
    _guard(database, "features")


def _fifth(database: Database) -> None:
    """Version 5: how the work went, a row for each observation (``work.observations``)."""
    columns = "id:int package:int kind step name result value:float u:float"
    _create(database, "observations", columns, {"package", "kind"}, package="packages")
    database.table("observations").create_index(["kind", "package"])
    _guard(database, "observations")


def _sixth(database: Database) -> None:
    """Version 6: a row for each package as the desk's list shows it, derived and kept up by triggers."""
    for statement in Path(__file__).with_name("worklist.sql").read_text("utf-8").split(";\n\n"):
        database.conn.execute(statement)


def _create(
    database: Database, name: str, columns: str, required: Iterable[str] = (), **names: str
) -> None:
    """A table with its first column as the key. ``columns`` are texts unless a type follows the
    name after a colon; ``names`` gives the table whose id a column holds."""
    types = {"": str, "int": int, "float": float, "bytes": bytes}
    named = (column.partition(":") for column in columns.split())
    of_type = {column: types[kind] for column, _, kind in named}
    database.table(name).create(
        of_type,
        pk=next(iter(of_type)),
        foreign_keys=[(column, table, "id") for column, table in names.items()],
        not_null=required,
        strict=True,
    )


def _guard(database: Database, *tables: str) -> None:
    for table in tables:
        for statement in _APPEND_ONLY.format(table=table).split("END;")[:-1]:
            # One by one: executescript would commit the transaction that this belongs to.
            database.conn.execute(f"{statement} END;")


# Step n brings a register of version n to version n + 1; version 0 is an empty file.
STEPS: tuple[Callable[[Database], None], ...] = (_first, _second, _third, _fourth, _fifth, _sixth)
VERSION = len(STEPS)
