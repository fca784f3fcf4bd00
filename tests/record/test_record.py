"""A job's record from outside: create, append, close, open again."""

from __future__ import annotations

import sqlite3

import pytest

from evidence_app.errors import RecordError
from evidence_app.record.event import GENESIS, Draft, from_line, to_line, verify_chain
from evidence_app.record.record import Record


def test_new_record_is_empty(record):
    assert record.events == ()
    assert record.head == GENESIS
    assert not (record.damage or record.missing)
    assert record.scratch.is_dir()


def test_events_are_numbered_chained_and_timed(record, clock):
    (first,) = record.append(Draft("job-opened", {"format": 1}, actor="desk"))
    clock.advance(2.5)
    (second,) = record.append(Draft("step-entered", {"reason": "next"}, step="look"))
    assert (first.sequence, second.sequence) == (1, 2)
    assert (second.kind, second.step, second.actor) == ("step-entered", "look", "technician")
    assert (second.wall, second.mono_us) == ("2026-03-02T08:15:32.500+00:00", 1_002_500_000)
    assert verify_chain(record.events) == []
    assert record.head == second.hash


def test_closed_record_opens_with_the_same_events(folder, clock):
    with Record.create(folder, clock) as record:
        for number in range(5):
            record.append(Draft("item-ticked", {"n": number}))
        events = record.events
    with Record.open(folder, clock) as record:
        assert record.events == events
        assert not (record.damage or record.missing)


def test_record_goes_on_where_it_ended(folder, clock):
    with Record.create(folder, clock) as record:
        record.append(Draft("job-opened", {}))
    with Record.open(folder, clock) as record:
        (event,) = record.append(Draft("job-resumed", {}))
        assert event.sequence == 2
        assert verify_chain(record.events) == []


def test_journal_lines_are_the_events(record):
    for number in range(3):
        record.append(Draft("item-ticked", {"n": number}))
    lines = list(record.journal_lines())
    assert lines == [to_line(event) for event in record.events]
    assert tuple(from_line(line) for line in lines) == record.events


def test_refused_draft_leaves_no_gap(record):
    with pytest.raises(RecordError):
        record.append(Draft("note-written", {"text": object()}))
    (event,) = record.append(Draft("note-written", {"text": "fine"}))
    assert event.sequence == 1


def test_caller_changing_the_body_later_does_not_change_the_event(record):
    body = {"list": ["a"]}
    record.append(Draft("note-written", body))
    body["list"].append("b")
    assert record.events[0].body == {"list": ["a"]}


def test_folder_that_is_not_empty_is_refused(folder, clock):
    folder.mkdir()
    (folder / "holiday.jpg").write_bytes(b"x")
    with pytest.raises(RecordError, match="not empty"):
        Record.create(folder, clock)
    assert [path.name for path in folder.iterdir()] == ["holiday.jpg"]


def test_folder_of_a_job_is_refused_for_another(folder, clock):
    Record.create(folder, clock).close()
    with pytest.raises(RecordError, match="not empty"):
        Record.create(folder, clock)


def test_creation_that_was_cut_short_can_be_done_again(folder, clock):
    (folder / "originals").mkdir(parents=True)
    (folder / "lock").touch()
    (folder / "journal.db.new").write_bytes(b"half")
    with Record.create(folder, clock) as record:
        record.append(Draft("job-opened", {}))
        assert not (folder / "journal.db.new").exists()


def test_folder_that_is_a_file_is_a_clear_error(folder, clock):
    folder.write_text("not a folder")
    with pytest.raises(RecordError):
        Record.create(folder, clock)


@pytest.mark.parametrize("made", [True, False], ids=["empty folder", "no folder"])
def test_opening_what_is_no_job_is_a_clear_error(folder, clock, made):
    if made:
        folder.mkdir()
    with pytest.raises(RecordError) as caught:
        Record.open(folder, clock)
    assert str(folder) in caught.value.where


def test_closing_twice_does_no_harm(record):
    record.close()
    record.close()


@pytest.mark.parametrize("action", ["append", "store"])
def test_closed_record_refuses(record, action):
    record.close()
    with pytest.raises(RecordError, match="closed"):
        if action == "append":
            record.append(Draft("job-left", {}))
        else:
            record.store(b"x", "image/jpeg")


def test_clean_end_leaves_one_journal_file(folder, clock):
    with Record.create(folder, clock) as record:
        record.append(Draft("job-opened", {}))
    assert [path.name for path in folder.glob("journal*")] == ["journal.db"]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE events SET hash = hash",
        "DELETE FROM events",
        "DELETE FROM events WHERE sequence = 2",
        "INSERT INTO events SELECT 9, line, hash FROM events WHERE sequence = 1",
        "INSERT OR REPLACE INTO events SELECT 1, line, hash FROM events WHERE sequence = 2",
    ],
)
def test_database_itself_refuses_changes(folder, clock, statement):
    with Record.create(folder, clock) as record:
        record.append(Draft("job-opened", {}))
        record.append(Draft("job-left", {}))
    connection = sqlite3.connect(folder / "journal.db")
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute(statement)
    connection.close()


def test_event_is_in_the_log_on_disk_before_append_returns(folder, clock):
    with Record.create(folder, clock) as record:
        record.append(Draft("note-written", {"text": "marker 7319"}))
        assert b"marker 7319" in (folder / "journal.db-wal").read_bytes()
