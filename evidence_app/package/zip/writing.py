"""A ZIP file whose bytes depend on nothing but what is put in.

Entries are stored, not compressed: photos and FLAC do not shrink, and any tool
can stream them. Times, attributes and order are fixed by the caller; entries
and the file become ZIP64 only where their size asks for it. Each source is
read once: the same pass hashes it and writes it, the one beside the other
(hashing, the ZIP's CRC-32 and writing let go of Python's lock).
"""

from __future__ import annotations

import hashlib
import io
import os
import zipfile
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from pathlib import Path
from typing import BinaryIO

from evidence_app.errors import PackageError
from evidence_app.record import times
from evidence_app.sentence import sentence

CHUNK = 1 << 20

# Regular file, rw-r--r--, as the upper half of the attributes (Unix).
ATTRIBUTES = 0o100644 << 16
UNIX = 3

# The years that a ZIP date can hold.
_FIRST_YEAR, _LAST_YEAR = 1980, 2107

Advance = Callable[[int], None]


class ZipWriter(AbstractContextManager["ZipWriter"]):
    """Writes one package's entries, all below one top folder.

    ``file`` must be seekable. ``stamp`` comes from :func:`zip_time`.
    ``advance`` is called with the number of bytes just written. A context
    manager: leaving it writes the central directory.
    """

    def __init__(
        self,
        file: BinaryIO,
        top: str,
        stamp: tuple[int, int, int, int, int, int],
        advance: Advance | None = None,
    ) -> None:
        self._zip = zipfile.ZipFile(file, "w", zipfile.ZIP_STORED, strict_timestamps=True)
        self._top = top
        self._stamp = stamp
        self._advance = advance or (lambda written: None)
        self._hashing = ThreadPoolExecutor(1, thread_name_prefix="seal-hash")

    def add_bytes(self, path: str, data: bytes) -> str:
        """Write ``data`` as entry ``path`` (inside the bag); its SHA-256 as hex."""
        return self._write(path, iter((data,)), len(data))

    def add_file(self, path: str, source: Path, size: int, sha256: str) -> None:
        """Copy ``source``, which must have this size and SHA-256.

        Raises PackageError naming the file when it is missing or is not what
        its event says: a damaged original is never sealed silently.
        """
        found = self._write(path, _chunks(source), size, str(source))
        if found != sha256:
            raise _damaged(source, f"has SHA-256 {found}, its event says {sha256}")

    def __exit__(self, *failure: object) -> None:
        self._hashing.shutdown()
        self._zip.close()

    def _write(self, path: str, chunks: Iterator[bytes], size: int, source: str = "") -> str:
        digest = hashlib.sha256()
        written = 0
        info = entry_info(f"{self._top}/{path}", size, self._stamp)
        with self._zip.open(info, "w") as entry:
            for chunk in chunks:
                written += len(chunk)
                if written > size:
                    break
                hashed = self._hashing.submit(digest.update, chunk)
                entry.write(chunk)
                hashed.result()
                self._advance(len(chunk))
        if written != size:
            raise _damaged(Path(source), f"does not have the {size} bytes that its event says")
        return digest.hexdigest()


def entry_info(name: str, size: int, stamp: tuple[int, int, int, int, int, int]) -> zipfile.ZipInfo:
    """The directory entry of a stored regular file, the same on every system.

    The size is set beforehand: it decides whether the entry needs ZIP64.
    """
    info = zipfile.ZipInfo(name, stamp)
    info.compress_type = zipfile.ZIP_STORED
    info.create_system = UNIX
    info.external_attr = ATTRIBUTES
    info.file_size = size
    return info


def local_header(info: zipfile.ZipInfo) -> bytes:
    """What zipfile writes before the bytes of an entry, its size and CRC-32 known."""
    return info.FileHeader(zip64=info.file_size * 1.05 > zipfile.ZIP64_LIMIT)


def end_of_archive(entries: list[zipfile.ZipInfo], at: int) -> bytes:
    """All that stands behind the bytes of the last file, which end at byte ``at``.

    Each of ``entries`` has its header offset, size and CRC-32, and went through
    :func:`local_header`, which settles the version that it needs.
    """
    file = _Behind(at)
    with zipfile.ZipFile(file, "w") as archive:
        archive.filelist += entries
    return file.getvalue()


class _Behind(io.BytesIO):
    """A file whose first bytes are not kept."""

    def __init__(self, at: int) -> None:
        super().__init__()
        self._start = at

    def tell(self) -> int:
        return self._start + super().tell()

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        return super().seek(offset - self._start, whence)


def zip_time(wall: str) -> tuple[int, int, int, int, int, int]:
    """An RFC 3339 time as a ZIP date and time: the local reading as written.

    ZIP keeps no offset, whole even seconds only and the years 1980 to 2107;
    other years become the nearest of these. The journal has the exact time.
    """
    moment = times.parse(wall)
    year = min(max(moment.year, _FIRST_YEAR), _LAST_YEAR)
    day = 28 if (moment.month, moment.day) == (2, 29) and year != moment.year else moment.day
    return (year, moment.month, day, moment.hour, moment.minute, moment.second & ~1)


def _chunks(source: Path) -> Iterator[bytes]:
    try:
        with source.open("rb", buffering=0) as file:
            while chunk := file.read(CHUNK):
                yield chunk
    except OSError as error:
        raise _damaged(source, f"cannot be read ({error.strerror or error})") from error


def _damaged(source: Path, problem: str) -> PackageError:
    return PackageError(
        sentence("this original {problem}, so the job was not sealed", problem=problem),
        where=str(source),
        remedy=sentence("restore the file from a backup of the job folder"),
    )
