"""What opening a job puts right after a crash, and what it only reports.

A crash is a copy of the folder as it stood while the job was open.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import msgspec
import pytest

from evidence_app.record.event import Draft, verify_chain
from evidence_app.record.record import Record


def crashed(record: Record) -> Path:
    target = record.folder.with_name("crashed")
    shutil.copytree(record.folder, target)
    (target / "lock").write_text("")
    return target


def take_photo(record: Record, data: bytes) -> str:
    ref = record.store(data, "image/jpeg")
    record.append(Draft("photo-taken", {"photo": msgspec.to_builtins(ref)}))
    return ref.sha256


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.rglob("*") if path.is_file())


def test_committed_events_survive(record, clock):
    for number in range(20):
        record.append(Draft("item-ticked", {"n": number}))
    with Record.open(crashed(record), clock) as opened:
        assert opened.events == record.events
        assert not opened.missing


def test_original_without_event_is_set_aside_and_recorded(record, clock):
    kept = take_photo(record, b"named")
    orphan = record.store(b"orphan", "image/jpeg").sha256
    with Record.open(crashed(record), clock) as opened:
        assert opened.events[-1].kind == "record-recovered"
        assert opened.events[-1].body == {"set_aside": [f"{orphan}.jpg"], "finished": []}
        assert (opened.folder / "set-aside" / f"{orphan}.jpg").read_bytes() == b"orphan"
        assert names(opened.folder / "originals") == [f"{kept}.jpg"]
        assert verify_chain(opened.events) == []


def test_temporary_file_is_set_aside(record, clock):
    folder = crashed(record)
    (folder / "originals" / "incoming-1234").write_bytes(b"half a pho")
    with Record.open(folder, clock) as opened:
        assert opened.events[-1].body["set_aside"] == ["incoming-1234"]
        assert (folder / "set-aside" / "incoming-1234").read_bytes() == b"half a pho"


def test_foreign_file_and_folder_are_set_aside(record, clock):
    folder = crashed(record)
    (folder / "originals" / "ab").mkdir()
    (folder / "originals" / "ab" / "Thumbs.db").write_bytes(b"x")
    (folder / "originals" / "ab" / "more").mkdir()
    with Record.open(folder, clock) as opened:
        assert opened.events[-1].body["set_aside"] == ["Thumbs.db", "more"]


def test_two_files_of_one_name_are_both_kept_aside(record, clock):
    folder = crashed(record)
    for first in ("aa", "bb"):
        (folder / "originals" / first).mkdir()
        (folder / "originals" / first / "same.txt").write_text(first)
    with Record.open(folder, clock):
        aside = sorted((folder / "set-aside").iterdir())
    assert [path.read_text() for path in aside] == ["bb", "aa"]
    assert [path.name for path in aside] == ["same-1.txt", "same.txt"]


def test_recovery_is_recorded_once(record, clock):
    record.append(Draft("job-opened", {}))
    record.store(b"orphan", "image/jpeg")
    folder = crashed(record)
    Record.open(folder, clock).close()
    with Record.open(folder, clock) as opened:
        assert [event.kind for event in opened.events] == ["job-opened", "record-recovered"]


def test_file_moved_aside_before_a_second_crash_is_still_recorded(record, clock):
    folder = crashed(record)
    (folder / "set-aside" / "incoming-9").write_bytes(b"moved, then the power went")
    with Record.open(folder, clock) as opened:
        assert opened.events[-1].body["set_aside"] == ["incoming-9"]


def test_named_original_found_under_its_temporary_name_is_put_in_place(record, clock):
    sha = take_photo(record, b"renamed before the crash, the disk forgot")
    folder = crashed(record)
    path = folder / "originals" / sha[:2] / f"{sha}.jpg"
    path.rename(folder / "originals" / "incoming-77")
    with Record.open(folder, clock) as opened:
        assert opened.missing == ()
        assert opened.path_of(sha).read_bytes() == b"renamed before the crash, the disk forgot"
        assert opened.events[-1].body == {"set_aside": [], "finished": [f"{sha}.jpg"]}


def test_step_list_named_without_media_type_is_not_an_orphan(record, clock):
    ref = record.store(b"id = 'short'", "application/toml")
    step_list = {"id": "short", "version": "1", "sha256": ref.sha256, "bytes": ref.bytes}
    record.append(Draft("job-opened", {"step_list": step_list}))
    with Record.open(crashed(record), clock) as opened:
        assert [event.kind for event in opened.events] == ["job-opened"]
        assert opened.path_of(ref.sha256).exists()


def test_missing_original_is_reported_by_its_event(record, clock):
    take_photo(record, b"one")
    sha = take_photo(record, b"two")
    folder = crashed(record)
    (folder / "originals" / sha[:2] / f"{sha}.jpg").unlink()
    with Record.open(folder, clock) as opened:
        (problem,) = opened.missing
        assert str(problem) == f"event 2: the original {sha} is missing"
        assert opened.append(Draft("note-written", {"text": "going on"}))


def test_original_of_another_size_is_reported(record, clock):
    sha = take_photo(record, b"four")
    folder = crashed(record)
    os.truncate(folder / "originals" / sha[:2] / f"{sha}.jpg", 3)
    with Record.open(folder, clock) as opened:
        assert [str(each) for each in opened.missing] == [
            f"event 1: the original {sha} has 3 bytes instead of 4"
        ]


def test_altered_original_of_the_same_size_is_found_by_hashing_all(record):
    shas = [take_photo(record, data) for data in (b"aaaa", b"bbbb", b"cccc")]
    path = record.path_of(shas[1])
    path.chmod(0o644)
    path.write_bytes(b"bbBb")
    (problem,) = record.check_originals()
    assert str(problem).startswith(f"event 2: the original {shas[1]} was altered")


def test_sound_originals_pass_the_check(record):
    for number in range(5):
        take_photo(record, str(number).encode())
    assert record.check_originals() == []


def test_lost_originals_folder_is_reported_and_the_job_goes_on(record, clock):
    sha = take_photo(record, b"one")
    folder = crashed(record)
    shutil.rmtree(folder / "originals")
    with Record.open(folder, clock) as opened:
        assert [str(each) for each in opened.missing] == [f"event 1: the original {sha} is missing"]
        assert opened.store(b"next", "image/jpeg")


def test_scratch_is_left_alone(record, clock):
    (record.scratch / "note-1.wav").write_bytes(b"RIFF....")
    with Record.open(crashed(record), clock) as opened:
        assert opened.events == ()
        assert (opened.scratch / "note-1.wav").read_bytes() == b"RIFF...."


def test_closed_job_gets_no_event_after_its_last(record, clock):
    record.append(Draft("job-closed", {"outcome": "completed", "reason": None}))
    record.store(b"too late", "image/jpeg")
    folder = crashed(record)
    before = names(folder)
    with Record.open(folder, clock) as opened:
        assert opened.events[-1].kind == "job-closed"
    assert names(folder / "originals") == [name for name in before if name.endswith(".jpg")]


def test_reading_only_changes_nothing(record, clock):
    take_photo(record, b"named")
    record.store(b"orphan", "image/jpeg")
    folder = crashed(record)
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    with Record.open(folder, clock, read_only=True) as opened:
        assert opened.events == record.events
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


@pytest.mark.parametrize("action", ["append", "store"])
def test_reading_only_refuses_to_write(record, clock, action):
    from evidence_app.errors import RecordError

    with (
        Record.open(crashed(record), clock, read_only=True) as opened,
        pytest.raises(RecordError, match="reading only"),
    ):
        if action == "append":
            opened.append(Draft("job-left", {}))
        else:
            opened.store(b"x", "image/jpeg")
