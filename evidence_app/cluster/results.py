"""The results as a Parquet dataset: a file for each package, in a folder for each closing day.

A file's name says which package it is about, by address, ETag and size, what it was checked against,
and what came out. So a package that was checked twice has its result once, and the names alone tell
which are left to check.
"""

import hashlib
import re
import time
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
from msgspec import Struct, msgpack, structs

from evidence_app.cluster.objects import S3, Listed, refusals, system_of
from evidence_app.desk.contents import closed_in_utc
from evidence_app.package.durable import write_durably
from evidence_app.package.verify.beside import Came, done_beside, verified
from evidence_app.package.verify.case import Asked
from evidence_app.package.verify.result import CHECK_NAMES, PackageFacts, VerifyResult
from evidence_app.release import release

VERDICTS = ("holds", "fails", "unreadable")  # by exit status
_NO_DAY = "__HIVE_DEFAULT_PARTITION__"  # which readers of such datasets take for null
_NAME = re.compile(rf"([^/]+)-({'|'.join(VERDICTS)})\.parquet")
_TYPES = {
    "size": pa.int64(), "events": pa.int64(), "practice": pa.bool_(),
    "photos": pa.list_(pa.string()), "seconds": pa.float64(), "checked_at": pa.timestamp("ms", "UTC"),
}  # fmt: skip
_CHECKS = {name: f"check_{name.replace('-', '_')}" for name in CHECK_NAMES}
_ABOUT = ("package", "etag", "size", "verdict", "overall", *_CHECKS.values(), "photos")
_MADE = ("closed_utc", "against", "checked_at", "checked_by", "seconds")
_NAMES = (*_ABOUT, *PackageFacts.__struct_fields__, *_MADE)
SCHEMA = pa.schema([(name, _TYPES.get(name, pa.string())) for name in _NAMES])


class Plan(Struct, frozen=True, dict=True):
    """What holds for every package of a run: what it is checked against, the dataset for the
    results, if any, and how many seconds one package may take."""

    asked: Asked
    results: str | None
    time_limit: float

    @cached_property
    def against(self) -> str:
        """A name of what packages are checked against: another key list gives another one."""
        packed = msgpack.encode(self.asked, enc_hook=lambda key: key.public_bytes_raw())
        return hashlib.sha256(packed).hexdigest()[:16]

    def name_of(self, package: Listed) -> str:
        """The name of a package's result, but for the verdict and the suffix."""
        place = hashlib.sha256(package.address.encode("utf-8", "replace")).hexdigest()[:16]
        etag = re.sub(r"[^0-9A-Za-z.-]", "", package.etag)
        return f"{place}-{package.size}-{etag}-{self.against}"


def verdicts_in(place: str) -> dict[str, str]:
    """Verdict by ``Plan.name_of`` of each package that could be read before. Raises Unreadable."""
    with refusals(place):
        found = map(_NAME.search, system_of(place).find(place))
    return {named[1]: named[2] for named in found if named and named[2] != "unreadable"}


def check(package: Listed, plan: Plan) -> Came:
    """Check a package in a process beside this one and add the result to the dataset, whole or not
    at all; run again, the same again. Raises EvidenceError when it cannot be written."""
    begun = time.monotonic()
    came = done_beside(verified, package.place, plan.asked, time_limit=plan.time_limit)
    if plan.results is not None:
        row = _row(package, came) | {"against": plan.against, "seconds": time.monotonic() - begun}
        day = row["closed_utc"][:10] if row["closed_utc"] else _NO_DAY
        name = f"closed={day}/{plan.name_of(package)}-{row['verdict']}.parquet"
        pq.write_table(pa.Table.from_pylist([row], SCHEMA), sink := pa.BufferOutputStream())
        _put(f"{plan.results.rstrip('/')}/{name}", sink.getvalue().to_pybytes())
    return came


def _put(path: str, data: bytes) -> None:
    with refusals(path):
        if path.startswith(S3):
            return system_of(path).pipe_file(path, data)
        Path(path).parent.mkdir(parents=True, exist_ok=True)
    write_durably(Path(path), data)


def _row(package: Listed, came: Came) -> dict[str, Any]:
    result = came if isinstance(came, VerifyResult) else None
    facts = result.facts if result else None
    row = {
        "etag": package.etag,
        "size": package.size,
        **{_CHECKS[each.name]: each.outcome for each in (result.checks if result else ())},
        **(structs.asdict(facts) if facts else {}),
        "package": package.address,
        "verdict": VERDICTS[came.exit_status],
        "overall": str(result.overall if result else came),
        "photos": result.photos if result else None,
        "closed_utc": closed_in_utc(facts.closed_at) if facts else None,
        "checked_at": datetime.now(UTC),
        "checked_by": release(),
    }
    # A hostile package, or the name of a file, may have text that is no Unicode.
    return {k: v.encode("utf-8", "replace").decode() if isinstance(v, str) else v for k, v in row.items()}
