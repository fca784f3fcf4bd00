"""What waits at the desk: every package as one row in memory, in classes, page by page.

The register is append-only, so the rows are brought up to date by what was added since; no
question ever reads all of it again. Nothing here is kept: it is made anew at every start.
"""

import json
import sqlite3
from threading import Lock
from typing import Any

from msgspec import Struct

from evidence_app.desk.database import stamp_of
from evidence_app.desk.register import COPIES, Register
from evidence_app.desk.wanted import Wanted, text_match
from evidence_app.errors import RegisterError
from evidence_app.sentence import sentence

FAILS, SHOWN_BEFORE, STOPS, UNDECIDED, ALL = ("fails", "shown-before", "stops", "undecided", "all")
WAITING = (FAILS, SHOWN_BEFORE, STOPS, UNDECIDED, ALL)

# Why a package fails, in the few classes that lead to different actions; by check. The first
# class that fits is the package's.
FAIL_CLASSES: dict[str, frozenset[str]] = {
    "unreadable": frozenset(),
    "altered": frozenset(("archive", "bag", "checksums", "nothing-extra", "originals", "record", "report")),
    "seal": frozenset(("seal", "journal-chain")),
    "key": frozenset(("key", "time-bracket")),
    "conduct": frozenset(("conduct", "clocks")),
    "practice": frozenset(("practice",)),
    "unchecked": frozenset(),
}

SORTED_BY = (
    "id",
    "claim",
    "serial",
    "technician",
    "step_list",
    "outcome",
    "closed_utc",
    "received_at",
    "decision",
    "fail_class",
    "photos_reused",
)

_TABLE = """
CREATE TABLE work (
  id INTEGER PRIMARY KEY, name TEXT, claim TEXT, serial TEXT, technician TEXT, outcome TEXT,
  model TEXT, step_list TEXT, closed_utc TEXT, received_at TEXT, fingerprint TEXT, job TEXT,
  practice INTEGER, exit_status INTEGER DEFAULT 0, overall TEXT, fail_class TEXT,
  photos_reused INTEGER DEFAULT 0, conflict INTEGER DEFAULT 0, decision TEXT, review TEXT,
  w_fails INTEGER GENERATED ALWAYS AS (exit_status != 0 AND decision IS NULL) STORED,
  w_shown INTEGER GENERATED ALWAYS AS
    ((photos_reused > 0 OR conflict) AND decision IS NULL) STORED,
  w_stops INTEGER GENERATED ALWAYS AS (outcome IS 'stopped' AND review IS NULL) STORED,
  w_undecided INTEGER GENERATED ALWAYS AS (decision IS NULL) STORED,
  anywhere TEXT GENERATED ALWAYS AS (lower(coalesce(claim, '') || char(10) || coalesce(serial, '') || char(10) || coalesce(technician, '') || char(10) || coalesce(fingerprint, '') || char(10) || coalesce(step_list, '') || char(10) || coalesce(model, '') || char(10) || coalesce(name, ''))) STORED);
CREATE INDEX work_job ON work (job);
"""
_FLAG = {FAILS: "w_fails", SHOWN_BEFORE: "w_shown", STOPS: "w_stops", UNDECIDED: "w_undecided"}


class WorklistPage(Struct, frozen=True):
    """``rows`` from number ``start`` of the ``total`` that fit; ``counts`` of every class over
    the whole register, whatever was asked."""

    rows: list[dict[str, Any]]
    total: int
    start: int
    counts: dict[str, int]


class Worklist:
    """Rows of one register. Calls may come from any thread. Raise RegisterError."""

    def __init__(self, register: Register) -> None:
        self._register = register
        self._lock = Lock()
        self._rows = sqlite3.connect(":memory:", check_same_thread=False)
        self._rows.row_factory = sqlite3.Row
        self._rows.executescript(_TABLE)
        for column in SORTED_BY:
            self._rows.execute(f"CREATE INDEX by_{column} ON work ({column}, id)")
        for flag in _FLAG.values():
            self._rows.execute(f"CREATE INDEX {flag} ON work ({flag}, id) WHERE {flag}")
        self._stamp: tuple[int, ...] | None = None
        self._seen = {"packages": 0, "results": 0, "events": 0, "reused": 0}

    def page(
        self,
        wanted: Wanted,
        sort: str = "id",
        descending: bool = True,
        start: int = 0,
        length: int | None = None,
    ) -> WorklistPage:
        """The rows that fit ``wanted``; ``length`` None: all of them."""
        if sort not in SORTED_BY:
            raise RegisterError.none_of(
                SORTED_BY, sentence("packages cannot be sorted by “{sort}”", sort=sort)
            )
        with self._lock:
            self._catch_up()
            clause, values = self._clause(wanted)
            order = "DESC" if descending else "ASC"
            counts = self._counts()
            # The whole of a class is counted already; only a search has to be counted.
            total = (
                counts[wanted.waiting or ALL]
                if not values and clause.count(" AND ") == 0
                else self._rows.execute(f"SELECT count(*) FROM work{clause}", values).fetchone()[0]
            )
            start = max(0, min(start, total - 1))
            query = f"SELECT * FROM work{clause} ORDER BY {sort} {order}, id {order} LIMIT ? OFFSET ?"
            found = self._rows.execute(query, [*values, -1 if length is None else length, start])
            return WorklistPage([dict(row) for row in found], total, start, counts)

    def numbers(self, wanted: Wanted) -> list[int]:
        """The numbers of all that fit, in the order of receipt."""
        return [row["id"] for row in self.page(wanted, descending=False).rows]

    def _counts(self) -> dict[str, int]:
        counts = {
            name: self._rows.execute(f"SELECT count(*) FROM work WHERE {flag}").fetchone()[0]
            for name, flag in _FLAG.items()
        }
        return counts | {ALL: self._seen_rows}

    def _clause(self, wanted: Wanted) -> tuple[str, list[Any]]:
        where: list[str] = []
        values: list[Any] = []
        if wanted.waiting not in (None, ALL):
            if wanted.waiting not in _FLAG:
                raise RegisterError.none_of(
                    WAITING, sentence("there is no class “{waiting}”", waiting=wanted.waiting)
                )
            where.append(_FLAG[wanted.waiting])
        for column in ("serial", "claim", "technician", "fingerprint", "step_list"):
            value = getattr(wanted, column)
            if value is not None:
                # A part is enough; a scanned number may come in another case or with blanks.
                where.append(f"instr(lower({column}), ?) > 0")
                values.append(value.strip().lower())
        if wanted.anything is not None:
            asked = wanted.anything.strip().lower()
            numbers = self._with_words(wanted.anything) if asked else []
            where.append("(instr(anywhere, ?) > 0 OR id IN (SELECT value FROM json_each(?)))")
            values += [asked, json.dumps(numbers)]
        for column in ("outcome", "fail_class"):
            if getattr(wanted, column) is not None:
                where.append(f"{column} = ?")
                values.append(getattr(wanted, column))
        if wanted.decision is not None:
            where.append("decision IS ?")
            values.append(None if wanted.decision == "none" else wanted.decision)
        if wanted.since is not None:
            where.append("closed_utc >= ?")
            values.append(wanted.since)
        if wanted.until is not None:
            where.append("substr(closed_utc, 1, 10) <= ?")
            values.append(wanted.until)
        for among in (wanted.received, self._with_words(wanted.text) if wanted.text is not None else None):
            if among is not None:
                where.append("id IN (SELECT value FROM json_each(?))")
                values.append(json.dumps(list(among)))
        return (f" WHERE {' AND '.join(where)}" if where else ""), values

    def _with_words(self, text: str) -> list[int]:
        query = (
            "SELECT DISTINCT w.package FROM words_fts JOIN words w ON w.id = words_fts.rowid "
            "WHERE words_fts MATCH ?"
        )
        with self._register.lookup() as database:
            return [row[0] for row in database.conn.execute(query, [text_match(text)])]

    # --- keeping up ---------------------------------------------------------------------

    def _catch_up(self) -> None:
        path = self._register.path
        try:
            stamp = stamp_of(path)
        except OSError:
            # Before the first package there is no register.
            self._seen_rows = 0
            return
        if stamp == self._stamp:
            return
        if self._stamp and stamp[0] != self._stamp[0]:
            self._rows.execute("DELETE FROM work")
            self._seen = dict.fromkeys(self._seen, 0)
        with self._register.lookup() as database, self._rows:
            self._add_packages(database.conn)
            self._add_results(database.conn)
            self._add_events(database.conn)
            self._add_reused(database.conn)
            # Opening brings an older register up to date, which changes the file.
            self._stamp = stamp_of(path)
        self._seen_rows = self._rows.execute("SELECT count(*) FROM work").fetchone()[0]

    def _new(self, database: sqlite3.Connection, table: str, columns: str) -> list[tuple]:
        query = f"SELECT id, {columns} FROM {table} WHERE id > ? ORDER BY id"
        rows = database.execute(query, [self._seen[table]]).fetchall()
        if rows:
            self._seen[table] = rows[-1][0]
        return rows

    def _add_packages(self, database: sqlite3.Connection) -> None:
        columns = (
            "name, claim, serial, technician, outcome, model, step_list, closed_utc, "
            "received_at, fingerprint, job, practice"
        )
        rows = self._new(database, "packages", columns)
        places = ", ".join("?" * 13)
        self._rows.executemany(f"INSERT INTO work (id, {columns}) VALUES ({places})", rows)
        if rows:
            self._rows.execute(
                "UPDATE work SET conflict = 1 WHERE NOT conflict AND job IN (SELECT job FROM work "
                "WHERE job IS NOT NULL GROUP BY job HAVING count(*) > 1)"
            )

    def _add_results(self, database: sqlite3.Connection) -> None:
        columns = "package, exit_status, overall, CASE exit_status WHEN 0 THEN NULL ELSE json END"
        self._rows.executemany(
            "UPDATE work SET exit_status = ?, overall = ?, fail_class = ? WHERE id = ?",
            (
                (status, overall, fail_class(status, found), package)
                for _, package, status, overall, found in self._new(database, "results", columns)
            ),
        )

    def _add_events(self, database: sqlite3.Connection) -> None:
        for _, package, kind, decision in self._new(database, "events", "package, kind, decision"):
            if kind in ("decided", "countersigned"):
                column = "decision" if kind == "decided" else "review"
                self._rows.execute(f"UPDATE work SET {column} = ? WHERE id = ?", [decision, package])

    def _add_reused(self, database: sqlite3.Connection) -> None:
        query = (
            "SELECT u.id, f.package FROM reused u JOIN photos f ON f.id = u.photo WHERE u.id > ? "
            f"AND u.verdict IN {COPIES} ORDER BY u.id"
        )
        found = database.execute(query, [self._seen["reused"]]).fetchall()
        for number, package in found:
            self._seen["reused"] = number
            self._rows.execute("UPDATE work SET photos_reused = photos_reused + 1 WHERE id = ?", [package])

    _seen_rows = 0


def fail_class(exit_status: int, result: str | None) -> str | None:
    """The class of what checking found (the register's JSON of a result); None: nothing fails."""
    if exit_status == 0:
        return None
    found = json.loads(result or "{}")
    failed = {check["name"] for check in found.get("checks", ()) if check["outcome"] == "fails"}
    named = (name for name, checks in FAIL_CLASSES.items() if checks & failed)
    return next(named, "unchecked" if "checks" in found else "unreadable")
