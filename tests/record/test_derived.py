"""What was made from originals is kept to save work, and is never trusted when it is not whole."""

from __future__ import annotations

import pytest

from evidence_app.errors import RecordError
from evidence_app.record.record import Record

CONTENT = b"\xff\xd8 a small picture"


@pytest.fixture
def original(record) -> str:
    return record.store(b"a photo", "image/jpeg").sha256


def test_what_was_kept_is_found_again(record, original, folder, clock):
    record.keep_derived(original, "maker 1", CONTENT)
    assert record.derived(original, "maker 1") == CONTENT
    record.close()
    with Record.open(folder, clock, read_only=True) as again:
        assert again.derived(original, "maker 1") == CONTENT


def test_another_maker_must_make_it_anew(record, original):
    record.keep_derived(original, "maker 1", CONTENT)
    assert record.derived(original, "maker 2") is None
    record.keep_derived(original, "maker 2", b"other")
    assert record.derived(original, "maker 2") == b"other"


@pytest.mark.parametrize("damage", [lambda d: d[:-1], lambda d: d + b"x", lambda d: b"", lambda d: d[::-1]])  # fmt: skip
def test_damaged_file_counts_as_missing(record, original, damage):
    record.keep_derived(original, "maker 1", CONTENT)
    (file,) = (record.folder / "derived").iterdir()
    file.write_bytes(damage(file.read_bytes()))
    assert record.derived(original, "maker 1") is None


def test_file_of_another_original_counts_as_missing(record, original):
    other = record.store(b"another photo", "image/jpeg").sha256
    record.keep_derived(original, "maker 1", CONTENT)
    folder = record.folder / "derived"
    (folder / original).rename(folder / other)
    assert record.derived(other, "maker 1") is None


def test_nothing_outside_the_folder_is_read(record):
    (record.folder / "outside").write_bytes(b"")
    assert record.derived("../outside", "maker 1") is None


def test_job_opened_for_reading_keeps_nothing(record, original, folder, clock):
    record.close()
    with (
        Record.open(folder, clock, read_only=True) as again,
        pytest.raises(RecordError, match="for reading only"),
    ):
        again.keep_derived(original, "maker 1", CONTENT)
