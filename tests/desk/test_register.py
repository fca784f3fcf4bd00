"""Decisions, search, export: what the register keeps and gives back."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from contextlib import closing

import pytest

from evidence_app.desk.export import as_csv, as_json, table
from evidence_app.desk.intake import Desk, Intake
from evidence_app.desk.search import find, show
from evidence_app.desk.wanted import Wanted
from evidence_app.errors import RegisterError
from evidence_app.package.keys.keylist import open_key_list
from tests.hostile.make import ATTACKS, build, sound_package
from tests.making import make_key, make_package

AT = "2026-03-09T10:00:00.000+01:00"


@pytest.mark.parametrize(
    ("wanted", "numbers"),
    [
        (Wanted(), [1, 2]),
        (Wanted(serial=" h7-004211 "), [1, 2]),
        (Wanted(serial="H7-0042"), [1, 2]),
        (Wanted(serial="H7-0043"), []),
        (Wanted(claim="nq-2026-0200"), [2]),
        (Wanted(technician="okafor", outcome="completed"), [1]),
        (Wanted(outcome="stopped"), [2]),
        (Wanted(since="2026-03-02", until="2026-03-02"), [1, 2]),
        (Wanted(since="2026-03-03"), []),
        (Wanted(until="2026-03-01"), []),
        (Wanted(text="lamp RIM"), [1, 2]),
        (Wanted(text="residue seen"), [2]),
        (Wanted(text="resid"), [2]),
        (Wanted(text='"residue" OR lamp'), []),
        (Wanted(text="NEAR( * ^"), []),
    ],
)
def test_search(both, wanted, numbers):
    assert [row["id"] for row in find(both, wanted)] == numbers


def test_latest_decision_counts_and_all_are_kept(both):
    both.decide(1, "returned", "the rim is not shown", "desk 2", AT)
    both.decide(1, "accepted", "", "desk 2", AT)
    assert [row["id"] for row in find(both, Wanted(decision="accepted"))] == [1]
    assert [row["id"] for row in find(both, Wanted(decision="none"))] == [2]
    decided = [e for e in show(both, 1).events if e["kind"] == "decided"]
    assert [(e["decision"], e["reason"], e["by"]) for e in decided] == [
        ("returned", "the rim is not shown", "desk 2"),
        ("accepted", "", "desk 2"),
    ]


def test_reason_of_a_decision_is_found_by_text(both):
    both.decide(1, "returned", "the rim is out of focus", "desk 2", AT)
    assert [row["id"] for row in find(both, Wanted(text="out of focus"))] == [1]


@pytest.mark.parametrize("decision", ["returned", "passed-to-supervisor"])
def test_decision_without_its_reason_is_refused(both, decision):
    with pytest.raises(RegisterError, match="needs a reason"):
        both.decide(1, decision, "  ", "desk 2", AT)


def test_accepting_a_failing_package_needs_a_reason(register, intake, tmp_path):
    path = tmp_path / "broken.zip"
    path.write_bytes(b"PK\x03\x04")
    number = intake.take(path).package
    with pytest.raises(RegisterError, match="a check fails needs a reason"):
        register.decide(number, "accepted", "", "desk 2", AT)
    register.decide(number, "accepted", "the paper form was checked instead", "desk 2", AT)


def test_unknown_package_is_said(both):
    with pytest.raises(RegisterError, match="no package 7"):
        both.decide(7, "accepted", "", "desk 2", AT)
    with pytest.raises(RegisterError, match="no package 7"):
        show(both, 7)


@pytest.mark.parametrize("table_", ["packages", "results", "events", "words", "photos", "readings"])
def test_database_refuses_to_change_or_delete(both, table_):
    with closing(sqlite3.connect(both.path)) as connection:
        for statement in (f"DELETE FROM {table_}", f"UPDATE {table_} SET id = id + 100"):
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                connection.execute(statement)


def test_csv_has_one_line_for_each_package(both):
    read = list(csv.DictReader(io.StringIO(as_csv(find(both)).decode("utf-8-sig"))))
    assert [(row["claim"], row["outcome"]) for row in read] == [
        ("NQ-2026-0117", "completed"),
        ("NQ-2026-0200", "stopped"),
    ]


def test_csv_cell_is_never_a_formula():
    assert table([('=cmd|"x"', "@sum", -3)]).decode("utf-8-sig") == '"\'=cmd|""x""",\'@sum,-3\r\n'


def test_json_holds_results_and_events(both):
    read = json.loads(as_json(both, find(both)))
    assert len(read[0]["results"][0]["json"]["checks"]) == 14
    assert read[1]["events"][0]["kind"] == "received"


def derived(register) -> tuple[list, list]:
    """The list's rows as they are kept, and as they come of everything that was entered."""
    with closing(sqlite3.connect(register.path)) as connection:
        kept, made = (
            connection.execute(f"SELECT {LISTED} FROM {table} ORDER BY id").fetchall()
            for table in ("worklist", "worklist_now")
        )
    return kept, made


LISTED = "id, claim, outcome, exit_status, fail_class, photos_reused, conflict, decision, review"


def test_list_keeps_up_with_every_entry(register, tmp_path):
    """A copy with the same seal, a photo shown before, a second check, a decision."""
    package, key_list = sound_package(tmp_path)
    intake = Intake(register, Desk("desk 2", open_key_list(key_list)))
    for name in ("photo-byte-altered", "bomb"):
        intake.take(build(ATTACKS[name], package, tmp_path).path)
    intake.take(package)
    intake.take(make_package(tmp_path / "other", claim="NQ-2026-0300", key=make_key(2)).path)
    register.decide(4, "returned", "it shows other photos", "desk 2", AT)
    register.countersigned(3, "upheld", "seen", "D. Supervisor", AT, {"serial": 1})
    kept, made = derived(register)
    assert kept == made
    assert [(row[0], *row[3:]) for row in kept] == [
        (1, 1, "altered", 0, 1, None, None),
        (2, 1, "altered", 0, 0, None, None),
        (3, 0, None, 0, 1, None, "upheld"),
        (4, 1, "key", 4, 0, "returned", None),
    ]
    assert [row["id"] for row in find(register, Wanted(waiting="fails"))] == [1, 2]
    assert [row["id"] for row in find(register, Wanted(waiting="shown-before"))] == [1, 3]
    assert [row["id"] for row in find(register, Wanted(fail_class="key"))] == [4]


def test_list_of_an_older_register_is_made_when_it_is_brought_up_to_date(both):
    both.decide(1, "returned", "the rim is not shown", "desk 2", AT)
    before = derived(both)[0]
    with closing(sqlite3.connect(both.path)) as connection:
        connection.execute("PRAGMA journal_mode = delete")
        connection.execute("DROP TABLE worklist")
        connection.execute("PRAGMA user_version = 5")
    assert [row["id"] for row in find(both, Wanted(waiting="undecided"))] == [2]
    assert derived(both) == (before, before)
