"""The register as a file for other programs: CSV for a spreadsheet, Parquet with types, JSON in full."""

import csv
import io
import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

import msgspec

from evidence_app.desk import search
from evidence_app.desk.register import Register

COLUMNS = (
    "id",
    "received_at",
    "name",
    "claim",
    "serial",
    "technician",
    "outcome",
    "practice",
    "step_list",
    "step_list_version",
    "opened_at",
    "closed_at",
    "fingerprint",
    "overall",
    "exit_status",
    "checked_at",
    "checked_by",
    "key_list",
    "decision",
    "decision_reason",
    "decided_by",
    "decided_at",
    "stop_rule",
    "stop_step",
    "stop_reason",
    "disposition",
    "owed_but_missing",
    "clock_notes",
    "photos",
    "photos_reused",
    "conflict",
    "content_sha256",
    "seal_sha256",
    "job",
)

_WHOLE = (
    "id", "package", "practice", "exit_status", "owed_but_missing", "clock_notes", "photos",
    "photos_reused", "conflict",
)  # fmt: skip
_FRACTION = ("value", "u")
_TIME = "closed_utc"

# A cell that begins so is run as a formula by spreadsheets (OWASP, "CSV Injection").
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def as_csv(rows: list[dict[str, Any]]) -> bytes:
    """One line for each package (RFC 4180), UTF-8 with a byte order mark so that spreadsheets
    read it as such. An apostrophe is set before a cell that would be run as a formula."""
    return table([COLUMNS, *([row[column] for column in COLUMNS] for row in rows)])


def as_parquet(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> bytes:
    """``rows`` as Parquet (Apache Parquet format) with a type for each of ``columns``; texts stay as
    they are, without the apostrophe of a spreadsheet. Raises ModuleNotFoundError where the library
    for it, of the extra ``cluster``, is not installed."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    types = dict.fromkeys(_WHOLE, pa.int64()) | dict.fromkeys(_FRACTION, pa.float64())
    types[_TIME] = pa.timestamp("us", "UTC")
    schema = pa.schema([(column, types.get(column, pa.string())) for column in columns])
    named = [dict(zip(columns, row, strict=True)) for row in rows]
    for row in named:
        if row.get(_TIME):
            row[_TIME] = datetime.fromisoformat(row[_TIME])
    sink = pa.BufferOutputStream()
    pq.write_table(pa.Table.from_pylist(named, schema), sink)
    return sink.getvalue().to_pybytes()


def packages_as_parquet(rows: list[dict[str, Any]]) -> bytes:
    """The columns of the CSV file, typed. Raises as ``as_parquet`` does."""
    return as_parquet(COLUMNS, ([row[column] for column in COLUMNS] for row in rows))


def as_json(register: Register, rows: list[dict[str, Any]]) -> bytes:
    """Every package with its results, events, conflicts and reused photos."""
    entries = [msgspec.structs.asdict(search.show(register, row["id"])) for row in rows]
    return json.dumps(entries, indent=2, ensure_ascii=False, default=str).encode() + b"\n"


def table(rows: list[Any]) -> bytes:
    """Rows as CSV, made safe for spreadsheets."""
    text = io.StringIO()
    writer = csv.writer(text)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return b"\xef\xbb\xbf" + text.getvalue().encode()


def _cell(value: Any) -> Any:
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return value
