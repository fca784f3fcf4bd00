"""What waits at the desk: every package as one row of the register's list, in classes, page by page.

The register keeps these rows itself (worklist.sql), so that a page costs the same however many
packages were ever received.
"""

import json
from collections.abc import Sequence
from typing import Any

from msgspec import Struct

from evidence_app.desk.register import Register
from evidence_app.desk.wanted import Wanted, text_match
from evidence_app.errors import RegisterError
from evidence_app.sentence import sentence

FAILS, SHOWN_BEFORE, STOPS, UNDECIDED, ALL = ("fails", "shown-before", "stops", "undecided", "all")
WAITING = (FAILS, SHOWN_BEFORE, STOPS, UNDECIDED, ALL)

# Why a package fails; which checks are of which class stands in worklist.sql.
FAIL_CLASSES = ("unreadable", "altered", "seal", "key", "conduct", "practice", "unchecked")

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

_FLAG = {FAILS: "w_fails", SHOWN_BEFORE: "w_shown", STOPS: "w_stops", UNDECIDED: "w_undecided"}

_WITH_WORDS = (
    "SELECT w.package FROM words_fts JOIN words w ON w.id = words_fts.rowid WHERE words_fts MATCH ?"
)


class WorklistPage(Struct, frozen=True):
    """``rows`` from number ``start`` of the ``total`` that fit; ``counts`` of every class over
    the whole register, whatever was asked."""

    rows: list[dict[str, Any]]
    total: int
    start: int
    counts: dict[str, int]


class Worklist:
    """Rows of one register, by its own indexes. Calls may come from any thread. Raise RegisterError."""

    def __init__(self, register: Register) -> None:
        self._register = register

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
        clause, values = _clause(wanted)
        order = "DESC" if descending else "ASC"
        if not self._register.path.exists():  # before the first package
            return WorklistPage([], 0, 0, dict.fromkeys(WAITING, 0))
        with self._register.lookup() as database:

            def number_in(where: str, values: Sequence[Any] = ()) -> int:
                return database.execute(f"SELECT count(*) FROM worklist{where}", values).fetchone()[0]

            counts = {name: number_in(f" WHERE {flag}") for name, flag in _FLAG.items()} | {
                ALL: number_in("")
            }
            # The whole of a class is counted already; only a search has to be counted.
            whole = not values and clause.count(" AND ") == 0
            total = counts[wanted.waiting or ALL] if whole else number_in(clause, values)
            start = max(0, min(start, total - 1))
            # Indexes have the numbers; of the rows themselves only those of the page are read.
            query = (
                f"SELECT * FROM worklist WHERE id IN (SELECT id FROM worklist{clause} ORDER BY {sort} {order}, "
                f"id {order} LIMIT ? OFFSET ?) ORDER BY {sort} {order}, id {order}"
            )
            found = database.query(query, [*values, -1 if length is None else length, start])
            return WorklistPage(list(found), total, start, counts)

    def numbers(self, wanted: Wanted) -> list[int]:
        """The numbers of all that fit, in the order of receipt."""
        return [row["id"] for row in self.page(wanted, descending=False).rows]


def _clause(wanted: Wanted) -> tuple[str, list[Any]]:
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
        where.append(
            f"(instr(anywhere, ?) > 0 OR id IN ({_WITH_WORDS}))" if asked else "instr(anywhere, ?) > 0"
        )
        values += [asked, text_match(wanted.anything)] if asked else [asked]
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
    if wanted.received is not None:
        where.append("id IN (SELECT value FROM json_each(?))")
        values.append(json.dumps(list(wanted.received)))
    if wanted.text is not None:
        where.append(f"id IN ({_WITH_WORDS})")
        values.append(text_match(wanted.text))
    return (f" WHERE {' AND '.join(where)}" if where else ""), values
