"""The register as a file for other programs: CSV for a spreadsheet, JSON in full."""

import csv
import io
import json
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

# A cell that begins so is run as a formula by spreadsheets (OWASP, "CSV Injection").
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def as_csv(rows: list[dict[str, Any]]) -> bytes:
    """One line for each package (RFC 4180), UTF-8 with a byte order mark so that spreadsheets
    read it as such. An apostrophe is set before a cell that would be run as a formula."""
    return table([COLUMNS, *([row[column] for column in COLUMNS] for row in rows)])


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
