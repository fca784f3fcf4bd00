"""The judge of a ZIP file's directory: agrees with zipfile, and misses no byte."""

from __future__ import annotations

import errno
import io
import random
import struct
import zipfile
from contextlib import suppress

import pytest

from evidence_app.package.verify.check import verify
from evidence_app.package.zip.archive import open_archive
from evidence_app.package.zip.directory import NotAZip, read_directory
from evidence_app.package.zip.writing import ZipWriter
from tests.hostile import zips

STAMP = (2026, 3, 2, 8, 15, 46)


def judged(data: bytes):
    return read_directory(lambda at, length: data[at : at + length], len(data))


def sealed_form(files: dict[str, bytes]) -> bytes:
    """A ZIP file by the app's own writer."""
    file = io.BytesIO()
    with ZipWriter(file, "top", STAMP) as writer:
        for name, data in files.items():
            writer.add_bytes(name, data)
    return file.getvalue()


def contents(data: bytes) -> dict[str, bytes]:
    directory = judged(data)
    assert directory.problems == ()
    return {e.name: data[e.data_at : e.data_at + e.size] for e in directory.entries}


FILES = {"a.txt": b"first", "b/c.bin": bytes(2000), "empty": b""}


def test_lists_what_zipfile_lists():
    data = sealed_form(FILES)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        expected = {info.filename: archive.read(info) for info in archive.infolist()}
    assert contents(data) == expected


@pytest.mark.parametrize("limit", [0, 1000, 2100])
def test_reads_zip64_as_zipfile_writes_it(monkeypatch, limit):
    """With the limit lowered, zipfile writes ZIP64 sizes, offsets and end records early."""
    monkeypatch.setattr(zipfile, "ZIP64_LIMIT", limit)
    data = sealed_form(FILES)
    assert b"PK\x06\x06" in data
    assert contents(data) == {f"top/{name}": content for name, content in FILES.items()}


def test_every_changed_byte_of_headers_and_directory_is_noticed():
    data = sealed_form({"a.txt": b"first", "b.txt": b"second"})
    files = {data.index(b"first") + i for i in range(5)} | {data.index(b"second") + i for i in range(6)}
    names = [b"top/a.txt", b"top/b.txt"]
    for at in sorted(set(range(len(data))) - files):
        for flip in (0x01, 0x80, 0xFF):
            changed = bytearray(data)
            changed[at] ^= flip
            try:
                directory = judged(bytes(changed))
            except NotAZip:
                continue
            found = [entry.name.encode() for entry in directory.entries]
            assert directory.problems or found != names, (at, flip)


def test_every_cut_is_noticed():
    data = sealed_form(FILES)
    for length in range(len(data)):
        with pytest.raises(NotAZip):
            judged(data[:length])


def test_a_gigantic_directory_is_not_read():
    end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 1, 1, 500_000_000, 0, 0)
    asked = []

    def read_at(at: int, length: int) -> bytes:
        asked.append(length)
        return (bytes(length) + end)[-length:] if at + length > 500_000_000 else bytes(length)

    directory = read_directory(read_at, 500_000_022)
    assert "500000000 bytes" in str(directory.problems[0])
    assert max(asked) < 100_000


def test_a_disk_that_fails_is_no_defect_of_the_archive():
    data = sealed_form(FILES)
    for good in range(4):
        reads = iter(range(good))

        def read_at(at: int, length: int, reads=reads) -> bytes:
            if next(reads, None) is None:
                raise OSError(errno.EIO, "the disk went away")
            return data[at : at + length]

        with pytest.raises(OSError, match="went away"):
            read_directory(read_at, len(data))


def test_a_changed_byte_is_told_with_its_place():
    data = bytearray(sealed_form(FILES))
    data[6] ^= 1  # the flags of the first local header
    assert "top/a.txt: its local header contradicts" in str(judged(bytes(data)).problems[0])
    data[6] ^= 1
    data[-18] ^= 1  # the number of this disk
    assert f"(byte {len(data) - 18})" in str(judged(bytes(data)).problems[0])


def test_noise_never_breaks_the_judge():
    source = random.Random(20260302)
    data = sealed_form(FILES)
    end = len(data)
    for _ in range(3000):
        changed = bytearray(data)
        for _ in range(source.randint(1, 6)):
            changed[source.randrange(end - 400, end)] = source.randrange(256)
        with suppress(NotAZip):
            judged(bytes(changed))


def test_any_changed_byte_of_a_package_is_noticed(sound, tmp_path):
    data = sound.path.read_bytes()
    source = random.Random(20260303)
    path = tmp_path / "changed.zip"
    for at in source.sample(range(len(data)), 120):
        changed = bytearray(data)
        changed[at] ^= 1 << source.randrange(8)
        path.write_bytes(changed)
        assert verify(path, compare_pictures=False).failed, at


def test_files_are_read_from_their_places(sound):
    archive = open_archive(sound.path)
    with zipfile.ZipFile(sound.path) as other:
        for name in archive.sizes:
            with archive.open(name) as file:
                file.seek(3)
                found = file.read(10)
            assert found == other.read(f"{archive.top}/{name}")[3:13]


def test_lying_writer_makes_sound_archives_when_it_does_not_lie():
    """The attacks' own writer must not be what the judge objects to."""
    data = zips.write(zips.entries_of("top", FILES))
    assert contents(data) == {f"top/{name}": content for name, content in FILES.items()}
