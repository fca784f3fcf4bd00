"""The desk's register: what was received, what checking found, what was decided.

Every call is one transaction: an entry is there whole or not at all. Nothing is
ever changed: a decision, a second receipt or a second check is a new row.
"""

import json
from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

from msgspec import Struct, structs
from sqlite_utils import Database

from evidence_app import __version__
from evidence_app.desk.contents import Contents, PhotoInside, closed_in_utc
from evidence_app.desk.database import LOCK_WAIT_S, Told, check_whole, readable, writable
from evidence_app.desk.worded import kept
from evidence_app.desk.work.observations import observations_of
from evidence_app.errors import RegisterError
from evidence_app.locations import home
from evidence_app.package.verify.result import VerifyResult, to_json
from evidence_app.sentence import Sentence, sentence, sentences_beside

ACCEPTED, RETURNED, PASSED_ON = "accepted", "returned", "passed-to-supervisor"
_WORDS = sentences_beside(__file__)
DECISIONS = _WORDS["decisions"]
_UNREADABLE = 2

# What may be found of a photo against an earlier one; the first two are copies.
SAME_FILE, SAME_PICTURE = COPIES = "same-file", "same-picture"
POSSIBLE, NOT_COMPARED = "possible-copy", "not-compared"


class HashedPhoto(PhotoInside, frozen=True):
    """A photo to be entered. ``rows`` are its features, None where the picture has too little in
    it to be recognised; ``quality`` is how many were found."""

    rows: bytes | None
    quality: int


class Reuse(Struct, frozen=True):
    """A photo (by its place among the package's photos) that looks like an earlier one.

    ``verdict`` is one of the four above; ``turned`` whether it
    was mirrored; ``agreement`` the part of the picture that agrees, 0 to 1.
    """

    photo: int
    earlier: int
    verdict: str
    turned: str | None
    agreement: float | None
    sentence: Sentence


class Checked(Struct, frozen=True):
    """The outcome of checking: a result, or why the package could not be read."""

    result: VerifyResult | None
    unreadable: Sentence | None
    at: str
    key_list: str | None = None

    @property
    def overall(self) -> Sentence:
        if self.result is None:
            return sentence("This file could not be read as a package: {why}.", why=self.unreadable)
        return self.result.overall

    @property
    def exit_status(self) -> int:
        return _UNREADABLE if self.result is None else self.result.exit_status


def default_path() -> Path:
    """Where this user's register is, unless another is named."""
    return home() / "desk" / "register.db"


class Register:
    """The register in one SQLite file. Calls raise RegisterError or StorageFull."""

    def __init__(
        self, path: Path | None = None, wait_s: float = LOCK_WAIT_S, told: Told | None = None
    ) -> None:
        """``wait_s`` is how long a call waits while another run of the app holds the register;
        ``told`` gets a sentence when an older register was brought up to date."""
        self.path = path or default_path()
        self._wait_s = wait_s
        self._told = told

    def known(self, content_sha256: str) -> int | None:
        """Number of the package with this content, if it was received before."""
        with self._writable() as database:
            return _known(database, content_sha256)

    def received_from(self, origins: Iterable[tuple[str, str, int]]) -> dict[str, int]:
        """Number of each package that was received under the address, ETag and size of one of
        ``origins``, by its address."""
        query = (
            "SELECT json_extract(body, '$.origin[0]'), package FROM events WHERE kind LIKE 'received%' "
            "AND json_extract(body, '$.origin') IN (SELECT value FROM json_each(?))"
        )
        with self._writable() as database:
            return dict(
                database.conn.execute(query, [json.dumps(list(origins), ensure_ascii=False)]).fetchall()
            )

    def last_photo(self) -> int:
        """The highest number of a photo; 0 when there is none."""
        with self._writable() as database:
            return _last_photo(database)

    def receive(
        self,
        contents: Contents,
        checked: Checked,
        by: str,
        photos: Sequence[HashedPhoto] = (),
        reused: Sequence[Reuse] = (),
        compared_up_to: int | None = None,
    ) -> tuple[int | None, bool]:
        """Enter a package: (its number, whether it is new).

        ``compared_up_to`` is the last photo that ``reused`` took into account; when
        another run has entered photos since, nothing is written and the number is
        None, so that the caller can look at those too.
        """
        with self._writable() as database, database.atomic():
            known = _known(database, contents.content_sha256)
            if known is not None:
                _event(database, known, "received-again", checked.at, by, _place(contents))
                return known, False
            if compared_up_to is not None and _last_photo(database) != compared_up_to:
                return None, False
            package = _entered(database, "packages", _row(contents, checked.at))
            _event(database, package, "received", checked.at, by, _place(contents))
            _result(database, package, checked)
            readings = (
                _cleaned(package=package, reading=each.id, name=each.name, value=value, unit=each.unit)
                for each, value in contents.readings()
            )
            database.table("readings").insert_all(readings)
            for source, text in contents.words():
                _word(database, package, source, text)
            if contents.summary:
                rows = (structs.asdict(each) for each in observations_of(contents.summary))
                observed = (_cleaned(package=package, **row) for row in rows)
                database.table("observations").insert_all(observed)
            numbers = _insert_photos(database, package, photos)
            for each in reused:
                row = structs.asdict(each)
                row |= {"photo": numbers[each.photo], "sentence": clean(str(each.sentence))}
                database.table("reused").insert(row)
            return package, True

    def received_again(self, package: int, contents: Contents, at: str, by: str) -> None:
        with self._writable() as database, database.atomic():
            _event(database, package, "received-again", at, by, _place(contents))

    def checked_again(self, package: int, checked: Checked) -> None:
        """Keep a second result beside the first, for instance with a newer key list."""
        with self._writable() as database, database.atomic():
            _must_exist(database, package)
            _result(database, package, checked)

    def decide(self, package: int, decision: str, reason: str, by: str, at: str) -> None:
        """Enter the clerk's decision. The latest one counts; none is ever removed.

        The register is read whole before: a decision is not added to a damaged one.
        Raises RegisterError then, and when the decision needs a reason and has none: a
        return, a passing on, and accepting a package of which a check fails.
        """
        if decision not in DECISIONS:
            raise RegisterError.none_of(
                DECISIONS, sentence("there is no decision “{decision}”", decision=decision)
            )
        reason = clean(reason.strip()) or ""
        self.check_whole()
        with self._writable() as database, database.atomic():
            _must_exist(database, package)
            where = sentence("package {number}", number=package)
            if not reason and decision != ACCEPTED:
                raise RegisterError.worded(_WORDS["no-reason"], where)
            if not reason and _fails(database, package):
                raise RegisterError.worded(_WORDS["fails"], where)
            _event(database, package, "decided", at, by, {}, decision, reason)
            if reason:
                _word(database, package, f"reason of {decision}", reason)

    def countersigned(self, package: int, decision: str, reason: str, by: str, at: str, body: dict) -> None:
        """Enter a supervisor's countersign; once for each, by the SHA-256 of its bytes."""
        with self._writable() as database, database.atomic():
            _must_exist(database, package)
            written = json.dumps(body, sort_keys=True, ensure_ascii=False)
            same = "package = ? AND kind = 'countersigned' AND body = ?"
            if database.table("events").count_where(same, [package, clean(written)]):
                return
            _event(database, package, "countersigned", at, by, body, decision, clean(reason))
            if reason:
                _word(database, package, f"supervisor: {decision}", reason)

    def add_photos(self, package: int, photos: Sequence[HashedPhoto]) -> int:
        """Enter photos of a package that has none yet, or what an older version did not
        keep of them; how many were entered."""
        with self._writable() as database, database.atomic():
            _must_exist(database, package)
            if not database.table("photos").count_where("package = ?", [package]):
                return len(_insert_photos(database, package, photos))
            return _insert_features(database, package, photos)

    def check_whole(self) -> None:
        """Read all of it once. Raises RegisterError when it is damaged."""
        check_whole(self.path, self._wait_s, self._told)

    def lookup(self) -> AbstractContextManager[Database]:
        """The register's database for looking things up, as a context manager."""
        return readable(self.path, self._wait_s, self._told)

    def _writable(self) -> AbstractContextManager[Database]:
        return writable(self.path, self._wait_s, self._told)


def clean(text: str | None) -> str | None:
    """Text that SQLite and UTF-8 can hold: a lone surrogate and NUL become U+FFFD."""
    if text is None:
        return None
    return text.encode("utf-8", "replace").decode("utf-8").replace("\0", "\ufffd")


def _cleaned(**fields: object) -> dict[str, object]:
    """A row of which every text is ``clean``."""
    return {name: clean(value) if isinstance(value, str) else value for name, value in fields.items()}


def _known(database: Database, content_sha256: str) -> int | None:
    query = "SELECT id FROM packages WHERE content_sha256 = ?"
    row = database.conn.execute(query, [content_sha256]).fetchone()
    return row[0] if row else None


def _last_photo(database: Database) -> int:
    return database.conn.execute("SELECT coalesce(max(id), 0) FROM photos").fetchone()[0]


def no_package(package: int) -> RegisterError:
    return RegisterError.worded(_WORDS["no-package"], package=package)


def _must_exist(database: Database, package: int) -> None:
    if not database.table("packages").count_where("id = ?", [package]):
        raise no_package(package)


def _fails(database: Database, package: int) -> bool:
    query = "SELECT exit_status FROM results WHERE package = ? ORDER BY id DESC LIMIT 1"
    return database.conn.execute(query, [package]).fetchone()[0] != 0


def _row(contents: Contents, at: str) -> dict:
    seal, summary = contents.seal, contents.summary
    who = summary.identity if summary else None
    stop = summary.stop if summary else None
    closed_at = seal.closed_at if seal else summary.outcome.closed_at if summary else None

    def of(told: object, *names: str, before: str = "") -> dict[str, Any]:
        return {before + name: getattr(told, name, None) for name in names}

    return _cleaned(
        content_sha256=contents.content_sha256,
        kind=contents.kind,
        name=contents.path.name,
        bytes=contents.bytes,
        received_at=at,
        unreadable=contents.unreadable and str(contents.unreadable),
        seal_sha256=contents.seal_sha256,
        **of(seal or who, "job", "claim", "serial", "practice"),
        **of(seal or (summary and summary.outcome), "outcome", "opened_at", "closed_at"),
        step_list=seal.step_list.id if seal else who and who.step_list_id,
        step_list_version=seal.step_list.version if seal else who and who.step_list_version,
        closed_utc=closed_in_utc(clean(closed_at)),
        **of(seal, "fingerprint", "device_key_sha256"),
        **of(who, "technician", "family", "model", "variant"),
        **of(stop, "rule", "by", "step", "reason", before="stop_"),
        disposition=stop and stop.disposition,
        owed_but_missing=len(summary.owed_but_missing) if summary else None,
        clock_notes=len(summary.clock_notes) if summary else None,
    )


def _entered(database: Database, table: str, row: dict) -> int:
    """The number that ``table`` gives the new ``row``."""
    database.table(table).insert(row)
    return database.conn.execute("SELECT last_insert_rowid()").fetchone()[0]


def _insert_photos(database: Database, package: int, photos: Sequence[HashedPhoto]) -> list[int]:
    numbers = []
    for photo in photos:
        fields = structs.asdict(photo)
        rows = fields.pop("rows")
        numbers.append(_entered(database, "photos", _cleaned(package=package, **fields)))
        database.table("features").insert({"photo": numbers[-1], "rows": rows})
    return numbers


def _insert_features(database: Database, package: int, photos: Sequence[HashedPhoto]) -> int:
    """Of the photos that were entered before features were kept; how many."""
    missing = database.conn.execute(
        "SELECT id, sha256 FROM photos WHERE package = ? AND id NOT IN (SELECT photo FROM features)",
        [package],
    ).fetchall()
    rows = {photo.sha256: photo.rows for photo in photos}
    told = [{"photo": number, "rows": rows[sha256]} for number, sha256 in missing if sha256 in rows]
    database.table("features").insert_all(told)
    return len(told)


def _result(database: Database, package: int, checked: Checked) -> None:
    found: dict[str, Any] = (
        to_json(checked.result) if checked.result else {"unreadable": str(checked.unreadable)}
    )
    found["worded"] = kept(checked.overall, checked.result.checks if checked.result else ())
    row = _cleaned(
        package=package,
        at=checked.at,
        app=__version__,
        exit_status=checked.exit_status,
        overall=str(checked.overall),
        key_list=checked.key_list,
        json=json.dumps(found, ensure_ascii=False),
    )
    database.table("results").insert(row)


def _event(
    database: Database,
    package: int,
    kind: str,
    at: str,
    by: str,
    body: dict,
    decision: str | None = None,
    reason: str | None = None,
) -> None:
    told = json.dumps(body, sort_keys=True, ensure_ascii=False)
    row = _cleaned(package=package, kind=kind, at=at, by=by, decision=decision, reason=reason, body=told)
    database.table("events").insert(row)


def _word(database: Database, package: int, source: str, text: str) -> None:
    database.table("words").insert(_cleaned(package=package, source=source, text=text))


def _place(contents: Contents) -> dict:
    place = {"path": str(contents.path.resolve()), "kind": contents.kind}
    return place | ({"origin": contents.origin} if contents.origin else {})
