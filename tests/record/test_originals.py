"""Originals: exact bytes, kept once, under their hash."""

from __future__ import annotations

import hashlib
import os
import stat
import threading

import pytest

from evidence_app.errors import RecordError
from evidence_app.record.record import OriginalRef, Record


def files_in(folder):
    return sorted(path.name for path in folder.rglob("*") if path.is_file())


def test_bytes_are_kept_exactly_under_their_hash(record):
    data = os.urandom(100_000)
    ref = record.store(data, "image/jpeg")
    assert ref == OriginalRef(hashlib.sha256(data).hexdigest(), 100_000, "image/jpeg")
    path = record.path_of(ref.sha256)
    assert path == record.folder / "originals" / ref.sha256[:2] / f"{ref.sha256}.jpg"
    assert path.read_bytes() == data


def test_large_file_is_copied_and_left_where_it_was(record, tmp_path):
    source = tmp_path / "note.flac"
    source.write_bytes(os.urandom(5_000_001))
    ref = record.store(source, "audio/flac")
    assert ref.bytes == 5_000_001
    assert record.path_of(ref.sha256).read_bytes() == source.read_bytes()


@pytest.mark.parametrize(
    ("media_type", "extension"),
    [
        ("image/jpeg", "jpg"),
        ("image/png", "png"),
        ("audio/flac", "flac"),
        ("application/toml", "toml"),
        ("application/json", "json"),
        ("application/octet-stream", "bin"),
    ],
)
def test_extension_follows_the_media_type(record, media_type, extension):
    assert record.path_of(record.store(b"x", media_type).sha256).suffix == f".{extension}"


def test_unknown_media_type_is_refused_with_the_known_ones(record):
    with pytest.raises(RecordError, match="image/jpeg"):
        record.store(b"x", "video/mp4")
    assert files_in(record.folder / "originals") == []


def test_same_bytes_twice_are_one_file(record):
    assert record.store(b"same", "image/png") == record.store(b"same", "image/png")
    assert len(files_in(record.folder / "originals")) == 1


def test_same_bytes_under_another_media_type_are_one_file(record):
    ref = record.store(b"same", "application/json")
    record.store(b"same", "application/octet-stream")
    assert files_in(record.folder / "originals") == [f"{ref.sha256}.json"]


def test_storing_again_heals_a_damaged_copy_and_keeps_the_damaged_one(record):
    ref = record.store(b"good bytes", "image/jpeg")
    path = record.path_of(ref.sha256)
    path.chmod(0o644)
    path.write_bytes(b"bad  bytes")
    record.store(b"good bytes", "image/jpeg")
    assert record.path_of(ref.sha256).read_bytes() == b"good bytes"
    assert (record.folder / "set-aside" / path.name).read_bytes() == b"bad  bytes"


def test_empty_original_can_be_kept(record):
    assert record.store(b"", "application/octet-stream").bytes == 0


@pytest.mark.skipif(os.name != "posix", reason="file modes are POSIX")
def test_kept_file_cannot_be_written_by_accident(record):
    path = record.path_of(record.store(b"x", "image/jpeg").sha256)
    assert not stat.S_IMODE(path.stat().st_mode) & 0o222


def test_missing_source_file_is_a_clear_error(record, tmp_path):
    with pytest.raises(RecordError) as caught:
        record.store(tmp_path / "gone.flac", "audio/flac")
    assert "gone.flac" in caught.value.where
    assert files_in(record.folder / "originals") == []


@pytest.mark.parametrize("unknown", ["0" * 64, "", "*", "../../journal", "/etc/passwd"])
def test_path_of_an_unknown_hash_is_a_clear_error(record, unknown):
    record.store(b"something", "image/jpeg")
    with pytest.raises(RecordError, match="is missing"):
        record.path_of(unknown)


def test_threads_storing_and_appending_at_once_lose_nothing(folder, clock):
    from evidence_app.record.event import Draft, verify_chain

    def work(record, number):
        for count in range(10):
            ref = record.store(f"{number} {count}".encode(), "application/octet-stream")
            record.append(Draft("note-written", {"ref": ref.sha256}))

    with Record.create(folder, clock) as record:
        threads = [threading.Thread(target=work, args=(record, number)) for number in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert len(record.events) == 40
        assert verify_chain(record.events) == []
        assert len(files_in(folder / "originals")) == 40
