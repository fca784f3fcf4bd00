"""The ZIP writer: same input same bytes, plain entries, nothing unsound goes in."""

from __future__ import annotations

import hashlib
import io
import os
import stat
import subprocess
import sys
import zipfile

import pytest

from evidence_app.errors import PackageError
from evidence_app.package.zip.writing import ZipWriter, zip_time

STAMP = (2026, 3, 2, 8, 15, 30)


def written(entries: dict[str, bytes]) -> io.BytesIO:
    file = io.BytesIO()
    with ZipWriter(file, "top", STAMP) as writer:
        for path, data in entries.items():
            writer.add_bytes(path, data)
    return file


def the_entry(data: bytes = b"photo") -> zipfile.ZipInfo:
    return zipfile.ZipFile(written({"data/a.jpg": data})).infolist()[0]


def test_the_same_input_gives_the_same_bytes():
    entries = {"a": b"1", "data/b": os.urandom(3_000_000)}
    assert written(entries).getvalue() == written(entries).getvalue()


def test_another_python_process_writes_the_same_bytes():
    script = (
        "import io, sys; from evidence_app.package.zip.writing import ZipWriter\n"
        "file = io.BytesIO()\n"
        "with ZipWriter(file, 'top', (2026, 3, 2, 8, 15, 30)) as writer:\n"
        "    writer.add_bytes('data/a.jpg', b'photo')\n"
        "sys.stdout.buffer.write(file.getvalue())\n"
    )
    environment = {**os.environ, "TZ": "Pacific/Auckland", "PYTHONHASHSEED": "7"}
    run = subprocess.run([sys.executable, "-c", script], stdout=subprocess.PIPE, env=environment)
    assert run.stdout == written({"data/a.jpg": b"photo"}).getvalue()


def test_entries_are_stored_under_the_top_folder():
    entry = the_entry()
    assert (entry.filename, entry.compress_type) == ("top/data/a.jpg", zipfile.ZIP_STORED)


def test_entries_are_plain_files_of_ordinary_rights():
    mode = the_entry().external_attr >> 16
    assert (stat.S_ISREG(mode), stat.S_IMODE(mode)) == (True, 0o644)


def test_entries_have_the_given_time():
    assert the_entry().date_time == STAMP


def test_entries_need_no_data_descriptor():
    assert the_entry().flag_bits == 0


def test_small_files_stay_plain_zip():
    assert the_entry().extract_version == 20


def test_the_returned_digest_is_that_of_the_content():
    with ZipWriter(io.BytesIO(), "top", STAMP) as writer:
        assert writer.add_bytes("a", b"abc") == hashlib.sha256(b"abc").hexdigest()


def test_a_file_is_copied_whole(tmp_path):
    data = os.urandom(2_500_000)
    (tmp_path / "o").write_bytes(data)
    file = io.BytesIO()
    with ZipWriter(file, "top", STAMP) as writer:
        writer.add_file("a", tmp_path / "o", len(data), hashlib.sha256(data).hexdigest())
    assert zipfile.ZipFile(file).read("top/a") == data


def test_progress_counts_the_bytes_of_a_file(tmp_path):
    data = os.urandom(2_500_000)
    (tmp_path / "o").write_bytes(data)
    seen = []
    with ZipWriter(io.BytesIO(), "top", STAMP, seen.append) as writer:
        writer.add_file("a", tmp_path / "o", len(data), hashlib.sha256(data).hexdigest())
    assert (sum(seen), len(seen) > 1) == (len(data), True)


@pytest.mark.parametrize(
    ("found", "said"),
    [(b"phot0", "SHA-256"), (b"phot", "5 bytes"), (b"photo+", "5 bytes"), (None, "cannot be read")],
)
def test_a_damaged_file_is_refused_by_name(tmp_path, found, said):
    if found is not None:
        (tmp_path / "photo-1").write_bytes(found)
    sha256 = hashlib.sha256(b"photo").hexdigest()
    with (
        pytest.raises(PackageError, match=f"photo-1.*{said}"),
        ZipWriter(io.BytesIO(), "top", STAMP) as writer,
    ):
        writer.add_file("a", tmp_path / "photo-1", 5, sha256)


def test_an_entry_beyond_the_limit_of_plain_zip_becomes_zip64(monkeypatch):
    """The limit of two gigabytes is lowered for the test."""
    monkeypatch.setattr(zipfile, "ZIP64_LIMIT", 1_000_000)
    assert the_entry(bytes(1_000_001)).extract_version == 45


@pytest.mark.parametrize(
    ("wall", "stamp"),
    [
        ("2026-03-02T08:15:31.999+01:00", (2026, 3, 2, 8, 15, 30)),
        ("1970-02-28T00:00:00.000Z", (1980, 2, 28, 0, 0, 0)),
        ("2900-12-31T23:59:59.000Z", (2107, 12, 31, 23, 59, 58)),
        ("2400-02-29T12:00:00.000Z", (2107, 2, 28, 12, 0, 0)),
    ],
)
def test_the_time_of_an_entry_is_the_local_reading_within_what_zip_can_hold(wall, stamp):
    assert zip_time(wall) == stamp
