"""A damaged journal: refused with a clear sentence, untouched, and still readable as evidence."""

from __future__ import annotations

import os
import shutil
import sqlite3
from pathlib import Path

import pytest

from evidence_app.errors import RecordError
from evidence_app.record.event import Draft
from evidence_app.record.record import Record


@pytest.fixture
def job(folder: Path, clock) -> Path:
    """A closed job of 60 events, large enough for several database pages."""
    with Record.create(folder, clock) as record:
        for number in range(60):
            clock.advance(1)
            record.append(Draft("note-written", {"text": f"note {number} " + "x" * 300}))
        record.store(b"an original without event", "image/jpeg")
    return folder


def alter(job: Path, statement: str, *values: object) -> None:
    """Change the database behind the app's back, its guards taken away first."""
    with sqlite3.connect(job / "journal.db") as connection:
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute(statement, values)
    connection.close()


def content(job: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in job.rglob("*") if path.is_file() and path.name != "lock"}


def refusal(job: Path, clock) -> RecordError:
    """Opening for writing must fail, leave every byte as it was, and release the job."""
    before = content(job)
    for _ in range(2):
        with pytest.raises(RecordError) as caught:
            Record.open(job, clock)
    assert content(job) == before
    assert "nothing in the folder was altered" in str(caught.value.what)
    assert "copy the whole folder" in str(caught.value.remedy)
    assert "journal.db" in caught.value.where
    return caught.value


def test_altered_event_is_named(job, clock):
    alter(
        job,
        "UPDATE events SET line = CAST(replace(line, 'note 41', 'note 14') AS BLOB) WHERE sequence = 42",
    )
    assert "event 42 " in str(refusal(job, clock).what)


def test_removed_event_is_named(job, clock):
    alter(job, "DELETE FROM events WHERE sequence = 10")
    assert "event 11" in str(refusal(job, clock).what)


def test_unreadable_event_is_named(job, clock):
    alter(job, "UPDATE events SET line = ? WHERE sequence = 7", b'{"not":"an event"}')
    assert "event 7" in str(refusal(job, clock).what)


def test_events_that_changed_places_are_named(job, clock):
    alter(job, "UPDATE events SET sequence = 1005 WHERE sequence = 5")
    alter(job, "UPDATE events SET sequence = 5 WHERE sequence = 6")
    alter(job, "UPDATE events SET sequence = 6 WHERE sequence = 1005")
    assert "event 6" in str(refusal(job, clock).what)


@pytest.mark.parametrize("size", [0, 50, 4096, 8192, 20_000])
def test_truncated_database_is_refused(job, clock, size):
    assert size < (job / "journal.db").stat().st_size
    os.truncate(job / "journal.db", size)
    refusal(job, clock)


def test_overwritten_page_is_refused(job, clock):
    with (job / "journal.db").open("r+b") as file:
        file.seek(3 * 4096)
        file.write(os.urandom(4096))
    refusal(job, clock)


def test_file_that_is_no_database_is_refused(job, clock):
    (job / "journal.db").write_bytes(b"shopping list\n" * 1000)
    refusal(job, clock)


def test_database_of_another_application_is_refused(job, clock):
    (job / "journal.db").unlink()
    with sqlite3.connect(job / "journal.db") as connection:
        connection.execute("CREATE TABLE events (sequence, line, hash)")
    connection.close()
    assert "not a journal" in str(refusal(job, clock).what)


def test_missing_database_is_refused(job, clock):
    (job / "journal.db").unlink()
    with pytest.raises(RecordError, match=r"no journal\.db"):
        Record.open(job, clock)


def test_damaged_database_with_its_log_is_refused(folder, clock):
    with Record.create(folder, clock) as record:
        for number in range(60):
            record.append(Draft("note-written", {"text": f"note {number} " + "x" * 300}))
        crashed = shutil.copytree(folder, folder.with_name("crashed"))
    os.truncate(crashed / "journal.db", 100)
    (crashed / "journal.db-wal").write_bytes(b"\0" * 5000)
    refusal(crashed, clock)


def test_log_cut_in_its_last_event_loses_only_that_one(folder, clock):
    with Record.create(folder, clock) as record:
        for number in range(10):
            record.append(Draft("note-written", {"text": f"note {number} "}))
        crashed = shutil.copytree(folder, folder.with_name("crashed"))
        events = record.events
    wal = crashed / "journal.db-wal"
    os.truncate(wal, wal.stat().st_size - 100)
    with Record.open(crashed, clock) as opened:
        assert opened.events == events[:-1]


def test_broken_chain_can_be_read_with_its_problems_listed(job, clock):
    alter(job, "UPDATE events SET hash = ? WHERE sequence = 42", "f" * 64)
    before = content(job)
    with Record.open(job, clock, read_only=True) as record:
        assert len(record.events) == 60
        assert [str(problem).split()[1] for problem in record.damage] == ["42", "43"]
        assert len(list(record.journal_lines())) == 60
    assert content(job) == before


def test_what_stands_before_the_damage_can_be_read(job, clock):
    size = (job / "journal.db").stat().st_size
    with (job / "journal.db").open("r+b") as file:
        file.seek(size - 2 * 4096)
        file.write(b"\xff" * 4096)
    with Record.open(job, clock, read_only=True) as record:
        assert 10 < len(record.events) < 60
        assert any("damaged" in str(problem) for problem in record.damage)
