"""The tables of the register, version by version, and their guards.

Every row is written once. What happens to a package later (received again,
decided on, checked again, countersigned) is a row of its own, so the database
itself refuses to change or delete anything.
"""

from collections.abc import Callable, Iterable

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
_PACKAGES = {
    "id": int,
    "content_sha256": str,
    "kind": str,
    "name": str,
    "bytes": int,
    "received_at": str,
    "unreadable": str,
    "seal_sha256": str,
    "job": str,
    "claim": str,
    "serial": str,
    "technician": str,
    "outcome": str,
    "practice": int,
    "family": str,
    "model": str,
    "variant": str,
    "step_list": str,
    "step_list_version": str,
    "opened_at": str,
    "closed_at": str,
    "closed_utc": str,
    "fingerprint": str,
    "device_key_sha256": str,
    "stop_rule": str,
    "stop_by": str,
    "stop_step": str,
    "stop_reason": str,
    "disposition": str,
    "owed_but_missing": int,
    "clock_notes": int,
}


def _first(database: Database) -> None:
    """Version 1: packages, results, events, readings and words."""
    _create(database, "packages", _PACKAGES, {"content_sha256", "kind", "name", "received_at"})
    database.table("packages").create_index(["content_sha256"], unique=True)
    for column in ("serial", "claim", "technician", "outcome", "job", "closed_utc", "seal_sha256"):
        database.table("packages").create_index([column])
    _create(
        database,
        "results",
        {
            "id": int,
            "package": int,
            "at": str,
            "app": str,
            "exit_status": int,
            "overall": str,
            "key_list": str,
            "json": str,
        },
        {"package", "at", "app", "overall", "json"},
        package="packages",
    )
    _create(
        database,
        "events",
        {
            "id": int,
            "package": int,
            "kind": str,
            "at": str,
            "by": str,
            "decision": str,
            "reason": str,
            "body": str,
        },
        {"package", "kind", "at", "by", "body"},
        package="packages",
    )
    readings = {"id": int, "package": int, "reading": str, "name": str, "value": str, "unit": str}
    _create(database, "readings", readings, {"package", "reading", "value"}, package="packages")
    words = {"id": int, "package": int, "source": str, "text": str}
    _create(database, "words", words, {"package", "source", "text"}, package="packages")
    for table in ("results", "events", "readings", "words"):
        database.table(table).create_index(["package"])
    database.table("words").enable_fts(
        ["text"], create_triggers=True, tokenize="unicode61 remove_diacritics 2"
    )
    _guard(database, "packages", "results", "events", "readings", "words")


def _second(database: Database) -> None:
    """Version 2: photos with their perceptual hash, and where one was found again."""
    _create(
        database,
        "photos",
        {
            "id": int,
            "package": int,
            "sequence": int,
            "step": str,
            "wanted": str,
            "purpose": str,
            "sha256": str,
            "path": str,
            "pdq": bytes,
            "quality": int,
        },
        {"package", "sha256", "path", "quality"},
        package="packages",
    )
    database.table("photos").create_index(["package"])
    database.table("photos").create_index(["sha256"])
    _create(
        database,
        "reused",
        {
            "id": int,
            "photo": int,
            "earlier": int,
            "verdict": str,
            "distance": int,
            "turned": str,
            "agreement": float,
            "sentence": str,
        },
        {"photo", "earlier", "verdict", "sentence"},
        photo="photos",
        earlier="photos",
    )
    database.table("reused").create_index(["photo"])
    database.table("reused").create_index(["earlier"])
    _guard(database, "photos", "reused")


def _third(database: Database) -> None:
    """Version 3: the hash of each photo's middle, NULL where there is too little in it."""
    _create(database, "middles", {"photo": int, "pdq": bytes}, photo="photos")
    _guard(database, "middles")


def _fourth(database: Database) -> None:
    """Version 4: the features of each photo, NULL where there is too little in it. They take the
    place of both hashes, which stay as they are and are not written any more."""
    _create(database, "features", {"photo": int, "rows": bytes}, photo="photos")
    _guard(database, "features")


def _create(
    database: Database, name: str, columns: dict[str, type], required: Iterable[str] = (), **names: str
) -> None:
    """A table with its first column as the key; ``names`` gives the table whose id a column holds."""
    database.table(name).create(
        columns,
        pk=next(iter(columns)),
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
STEPS: tuple[Callable[[Database], None], ...] = (_first, _second, _third, _fourth)
VERSION = len(STEPS)
