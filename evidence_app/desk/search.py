"""Looking things up in the register: search, one entry in full, conflicts, export rows."""

import json
import sqlite3
from collections.abc import Iterator, Sequence
from typing import Any

from msgspec import Struct

from evidence_app.desk.asking import list_name
from evidence_app.desk.register import COPIES, NOT_COMPARED, SAME_FILE, Register, no_package
from evidence_app.desk.wanted import Wanted
from evidence_app.desk.worklist import Worklist
from evidence_app.errors import RegisterError, turned
from evidence_app.sentence import Sentence, from_wire, sentence, sentences_beside

_CONFLICT, _SHOWN_BEFORE, _ANSWERS = sentences_beside(__file__).values()

# The latest result and decision stand beside each package.
_LISTED = f"""
SELECT p.*, r.overall, r.exit_status, r.at AS checked_at, r.app AS checked_by, r.key_list,
       d.decision, d.reason AS decision_reason, d.by AS decided_by, d.at AS decided_at,
       (SELECT count(*) FROM photos WHERE package = p.id) AS photos,
       (SELECT count(*) FROM reused u JOIN photos f ON f.id = u.photo
         WHERE f.package = p.id AND u.verdict IN {COPIES}) AS photos_reused,
       (p.job IS NOT NULL AND EXISTS
         (SELECT 1 FROM packages o WHERE o.job = p.job AND o.id != p.id)) AS conflict
  FROM packages p
  JOIN results r ON r.id = (SELECT max(id) FROM results WHERE package = p.id)
  LEFT JOIN events d ON d.id =
    (SELECT max(id) FROM events WHERE package = p.id AND kind = 'decided')
"""
# What counting asks for, without what is only looked at.
COUNTED = """
SELECT p.id, p.job, p.unreadable, p.closed_utc, p.practice, p.outcome, p.technician, p.step_list, p.serial,
       p.stop_reason, r.exit_status
  FROM packages p JOIN results r ON r.id = (SELECT max(id) FROM results WHERE package = p.id)
"""


class Entry(Struct, frozen=True):
    """One package with everything the register holds of it.

    ``answers`` are the packages that it says it answers, and that say so of it;
    ``unsearched`` are its photos that no search by picture could look at, each with a sentence.
    """

    package: dict[str, Any]
    results: list[dict[str, Any]]
    events: list[dict[str, Any]]
    conflicts: list[dict[str, Any]]
    reused: list[dict[str, Any]]
    unsearched: list[dict[str, Any]]
    words: list[dict[str, Any]]
    answers: list[dict[str, Any]]


def find(register: Register, wanted: Wanted = Wanted(), rows: str = _LISTED) -> list[dict[str, Any]]:  # noqa: B008
    """The packages that fit, in the order of their receipt. Raises RegisterError."""
    if wanted == Wanted():
        with register.lookup() as database:
            return list(database.query(f"{rows} ORDER BY p.id"))
    numbers = Worklist(register).numbers(wanted)
    with register.lookup() as database:
        among = "p.id IN (SELECT value FROM json_each(?))"
        return list(database.query(f"{rows} WHERE {among} ORDER BY p.id", [json.dumps(numbers)]))


def show(register: Register, package: int, possible: bool = False) -> Entry:
    """Everything about one package, with ``possible`` the possible copies among its photos too.
    Raises RegisterError when there is none of that number."""
    with register.lookup() as database:
        found = list(database.query(f"{_LISTED} WHERE p.id = ?", [package]))
        if not found:
            raise no_package(package)
        of_it = ("package = ?", [package], "id")
        return Entry(
            package=found[0],
            results=[_opened(row, "json") for row in database.table("results").rows_where(*of_it)],
            events=[_opened(row, "body") for row in database.table("events").rows_where(*of_it)],
            conflicts=list(_conflicts(database, found[0])),
            reused=_reused(database, package, possible),
            unsearched=_unsearched(database, package),
            words=list(database.table("words").rows_where(*of_it, select="source, text")),
            answers=list(_answers(database, found[0])),
        )


def latest_overalls(register: Register, packages: Sequence[int]) -> dict[int, Sentence | str]:
    """The overall line of each package's latest result, to be said."""
    query = (
        "SELECT package, overall, json_extract(json, '$.worded.overall') FROM results WHERE id IN "
        "(SELECT max(id) FROM results WHERE package IN (SELECT value FROM json_each(?)) GROUP BY package)"
    )
    with register.lookup() as database:
        rows = database.execute(query, [json.dumps(list(packages))]).fetchall()
    return {
        package: from_wire(json.loads(worded)) if worded else overall for package, overall, worded in rows
    }


def _conflicts(database: Any, package: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Other packages of its job; a package of which none is known (NULL) has none."""
    query = f"{_LISTED} WHERE p.job = ? AND p.id != ? ORDER BY p.id"
    for other in database.query(query, [package["job"], package["id"]]):
        same_seal = other["seal_sha256"] == package["seal_sha256"]
        words = _CONFLICT["same-seal" if same_seal else "other-seal"]
        said = Sentence(words.template, (("number", other["id"]), ("name", other["name"])))
        yield {"id": other["id"], "same_seal": same_seal, "sentence": said}


def _answers(database: Any, package: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """By the name of the step list, which says after which seal it asks for more. A claim's number
    finds the few that can be meant."""
    of_claim = "SELECT id, seal_sha256, step_list FROM packages WHERE claim = ? AND id != ? ORDER BY id"
    for number, seal, step_list in database.conn.execute(of_claim, [package["claim"], package["id"]]):
        for which, asks, after in (
            ("first", package["step_list"], seal),
            ("more", step_list, package["seal_sha256"]),
        ):
            if after and asks == list_name(after):
                said = Sentence(_ANSWERS[which].template, (("number", number),))
                yield {"id": number, "sentence": said}


MIRRORED, AS_IT_IS = "mirrored", "as it is"
_TURNED = {MIRRORED: sentence("mirrored"), AS_IT_IS: sentence("as it is")}


def reuse_words(
    verdict: str, turned: str, agreement: float | None, package: int, claim: str | None, path: str
) -> Sentence:
    """Where a photo was shown before; ``package``, ``claim`` and ``path`` are those of the earlier."""
    of = {"number": package, "claim": claim or sentence("not known"), "path": path}
    place = sentence("package {number}, claim {claim} ({path})", **of)
    found = Sentence(_SHOWN_BEFORE[verdict].template, (("place", place),))
    if verdict in (SAME_FILE, NOT_COMPARED):
        return found
    return sentence(
        "{found}: laid over each other {turned}, {agreement:.0%} of the overlap agrees to the finest "
        "structure",
        found=found,
        turned=_TURNED[turned],
        agreement=agreement,
    )


def _reused(database: Any, package: int, possible: bool) -> list[dict[str, Any]]:
    """Each worded from its fields; what the versions that kept a ``distance`` said, as kept."""
    rows = list(
        database.query(
            """
        SELECT u.verdict, u.turned, u.agreement, u.sentence, u.distance,
               f.path AS path, f.step AS step, f.sha256 AS sha256,
               e.id AS earlier_photo, e.path AS earlier_path, e.step AS earlier_step,
               e.package AS earlier_package, o.claim AS earlier_claim, o.serial AS earlier_serial
          FROM reused u JOIN photos f ON f.id = u.photo
          JOIN photos e ON e.id = u.earlier JOIN packages o ON o.id = e.package
         WHERE f.package = ? AND (u.verdict != 'look-alike')
           AND (? OR u.verdict != 'possible-copy') ORDER BY u.id
        """,
            [package, possible],
        )
    )
    for row in rows:
        if row.pop("distance") is None:
            names = ("verdict", "turned", "agreement", "earlier_package", "earlier_claim", "earlier_path")
            row["sentence"] = reuse_words(*(row[name] for name in names))
    return rows


def _unsearched(database: Any, package: int) -> list[dict[str, Any]]:
    """Photos without features: to leave them out in silence would pass for "not shown before"."""
    query = (
        "SELECT path, quality, photo IS NULL FROM photos LEFT JOIN features ON photo = id "
        "WHERE package = ? AND rows IS NULL ORDER BY id"
    )

    def why(quality: int, older: bool) -> Sentence:
        if older:
            return sentence("an older version entered it; see: evidence-app desk photos rebuild")
        if quality:
            return sentence("there is too little in it")
        return sentence("it cannot be read as a photo, is too large, or shows nothing")

    return [
        {
            "path": path,
            "sentence": sentence(
                "its picture could not be compared with earlier photos ({why}); only the very same "
                "file is recognised",
                why=why(quality, older),
            ),
        }
        for path, quality, older in database.conn.execute(query, [package])
    ]


def _opened(row: dict[str, Any], column: str) -> dict[str, Any]:
    what = sentence("an entry of the register cannot be read ({error})")
    with turned(ValueError, RegisterError, what):
        return row | {column: json.loads(row[column])}


def latest_path(database: Any, package: int) -> str | None:
    """Where the package was when it was last received."""
    query = (
        "SELECT body FROM events WHERE package = ? AND kind IN ('received', 'received-again') "
        "ORDER BY id DESC LIMIT 1"
    )
    row: sqlite3.Row | None = database.conn.execute(query, [package]).fetchone()
    return json.loads(row[0])["path"] if row else None
