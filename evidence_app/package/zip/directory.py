"""Judges a ZIP file before anything in it is read: it must be the one that the app would write.

Python's zipfile lists the archive, and is lenient on purpose: it skips bytes before the archive,
cleans names, keeps the last of two equal ones and trusts the directory over the local headers.
Each of those lets one file show different content to different tools. So its list is taken as
a claim. A person is told by name what can be told by name; then the app's own writer says what
every byte of an archive of these names, sizes, checksums and times is, from the first byte of
the file to its last, and only the files' own bytes may be others.
"""

import io
import os
import stat
import zipfile
from collections.abc import Callable, Iterator
from operator import attrgetter

from msgspec import Struct

from evidence_app import limits
from evidence_app.package.zip.names import name_problem, of_name, twins
from evidence_app.package.zip.writing import ATTRIBUTES, UNIX, end_of_archive, entry_info, local_header
from evidence_app.sentence import Sentence, sentence

# An entry of the directory has 46 bytes, its name and at most 28 bytes of ZIP64 sizes.
MAX_DIRECTORY_BYTES = limits.PACKAGE_FILES * (46 + 255 + 28)
MAX_PROBLEMS = 20

_END_MARK, _END_BYTES, _LONGEST_COMMENT = b"PK\x05\x06", 22, 0xFFFF
_ENTRY_MARK = b"PK\x01\x02"
_ZIP64 = b"\x01\x00"
_OFFSET = attrgetter("header_offset")

# What a person is told of an entry by its name, the worst first.
_DEFECTS: tuple[tuple[Callable[[zipfile.ZipInfo], object], Sentence], ...] = (
    (lambda info: info.flag_bits & 0x2041, sentence("is encrypted")),
    (lambda info: info.flag_bits & 0x0008, sentence("gives its size only behind its data")),
    (lambda info: info.flag_bits, sentence("has flags that are not accepted")),
    (lambda info: stat.S_ISLNK(info.external_attr >> 16), sentence("is a symbolic link")),
    (lambda info: not stat.S_ISREG(info.external_attr >> 16), sentence("is not a regular file")),
    (lambda info: info.external_attr != ATTRIBUTES, sentence("has other rights than rw-r--r--")),
    (lambda info: info.compress_type, sentence("is compressed; a package stores its files as they are")),
    (lambda info: info.internal_attr or info.create_system != UNIX, sentence("was not written by the app")),
    (
        lambda info: info.comment or info.extra[:2] not in (b"", _ZIP64),
        sentence("has extra fields or a comment"),
    ),
    (lambda info: info.volume, sentence("is on another disk")),
    (
        lambda info: info.compress_size != info.file_size,
        sentence("has two different sizes though it is stored"),
    ),
)

ReadAt = Callable[[int, int], bytes]


class NotAZip(Exception):
    """The file has no end-of-directory record: it is not a ZIP, or was cut short."""


class ZipEntry(Struct, frozen=True):
    """A stored file: its name, where its local header and its bytes begin, its
    size in bytes and its CRC-32."""

    name: str
    header_at: int
    data_at: int
    size: int
    crc: int


class Directory(Struct, frozen=True):
    """``problems`` is empty when the archive may be read; otherwise ``entries`` is."""

    entries: tuple[ZipEntry, ...]
    problems: tuple[Sentence, ...]


class _Refused(Exception):
    """Defects after which nothing more of the archive is looked at."""

    def __init__(self, *told: Sentence) -> None:
        self.told = told[:MAX_PROBLEMS]


def read_directory(read_at: ReadAt, file_size: int) -> Directory:
    """Judge the archive whose bytes ``read_at(offset, length)`` gives.

    Raises NotAZip when there is no end record to start from, and whatever ``read_at`` raises.
    Every other defect is a sentence in ``problems``, naming the entry where it has one.
    """
    file = _File(read_at, file_size)
    try:
        _refuse_more_than_an_end(file)
        listed = _list(file)
        _refuse_told_by_name(listed.infolist())
        return Directory(tuple(_prove(file, listed)), ())
    except _Refused as refused:
        return Directory((), refused.told)


class _File(io.RawIOBase):
    """The archive as zipfile reads it: never more at once than a package's directory may have."""

    def __init__(self, read_at: ReadAt, size: int) -> None:
        self._read_at, self.size, self._at = read_at, size, 0

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        base = (0, self._at, self.size)[whence]
        self._at = min(max(0, base + offset), self.size)
        return self._at

    def read(self, count: int = -1) -> bytes:
        left = self.size - self._at
        count = min(count, left) if count >= 0 else left
        if count > MAX_DIRECTORY_BYTES:
            raise _Refused(
                sentence("the archive's directory has {count} bytes, more than is accepted", count=count)
            )
        data = self._read_at(self._at, count)
        self._at += count
        entries = data.count(_ENTRY_MARK)
        if entries > limits.PACKAGE_FILES:
            raise _Refused(
                sentence(
                    "the archive lists {count} files; at most {most} are accepted",
                    count=entries,
                    most=limits.PACKAGE_FILES,
                )
            )
        return data

    def differs_from(self, expected: bytes, at: int) -> int | None:
        """The first place from ``at`` on where the file is not as expected, or None."""
        self.seek(at)
        found = self.read(len(expected))
        if found == expected:
            return None
        same = os.path.commonprefix([found, expected])
        return at + len(same)


def _refuse_more_than_an_end(file: _File) -> None:
    file.seek(-_END_BYTES - _LONGEST_COMMENT, os.SEEK_END)
    tail = file.read()
    end_at = tail.rfind(_END_MARK, 0, 4 - _END_BYTES)
    if end_at < 0:
        raise NotAZip
    behind = len(tail) - end_at - _END_BYTES
    if behind:
        raise _Refused(sentence("{count} bytes follow the end of the archive", count=behind))
    if not tail.endswith(b"\0\0"):
        raise _Refused(sentence("the archive has a comment"))


def _list(file: _File) -> zipfile.ZipFile:
    """The archive as zipfile understands it, its files not yet looked at."""
    try:
        listed = zipfile.ZipFile(file)
    except (zipfile.BadZipFile, NotImplementedError, ValueError) as error:
        if isinstance(error.__context__, OSError):  # which zipfile takes for a file of another kind
            raise error.__context__ from None
        raise _Refused(sentence("the archive's directory cannot be read: {error}", error=error)) from None
    if not listed.infolist():
        raise _Refused(sentence("the archive is empty"))
    if min(map(_OFFSET, listed.infolist())) < 0:
        raise _Refused(
            sentence("the archive's directory is not where its end record says, or bytes were put in")
        )
    return listed


def _refuse_told_by_name(listed: list[zipfile.ZipInfo]) -> None:
    problems = [
        of_name(info.orig_filename, problem) for info in listed if (problem := _entry_problem(info))
    ]
    problems += twins(info.orig_filename for info in listed)
    if not problems and len({info.orig_filename.split("/")[0] for info in listed}) != 1:
        problems = [sentence("the archive has more than one top folder")]
    if problems:
        raise _Refused(*problems)


def _entry_problem(info: zipfile.ZipInfo) -> Sentence | None:
    return name_problem(info.orig_filename) or next((told for has, told in _DEFECTS if has(info)), None)


def _prove(file: _File, listed: zipfile.ZipFile) -> Iterator[ZipEntry]:
    """The entries, while every byte around their own is shown to be the writer's."""
    at = 0
    written = []
    for claim in sorted(listed.infolist(), key=_OFFSET):
        info = entry_info(claim.orig_filename, claim.file_size, claim.date_time)
        info.CRC, info.compress_size, info.header_offset = claim.CRC, claim.file_size, at
        header = local_header(info)
        data_at = at + len(header)
        end = data_at + info.file_size
        problem = _place_problem(claim.header_offset - at) or _header_problem(file, header, at)
        if not problem and end > listed.start_dir:
            problem = sentence("is longer than the archive")
        if problem:
            raise _Refused(of_name(info.filename, problem))
        yield ZipEntry(info.filename, at, data_at, info.file_size, info.CRC)
        written.append(info)
        at = end
    if between := listed.start_dir - at:
        told = sentence("{count} bytes that belong to no file lie before the directory", count=between)
        raise _Refused(told)
    ending = end_of_archive(written, at)
    place = file.differs_from(ending, at)
    if place is None and at + len(ending) < file.size:
        place = at + len(ending)
    if place is not None:
        raise _Refused(
            sentence("the archive's directory is not what the app writes (byte {place})", place=place)
        )


def _place_problem(gap: int) -> Sentence | None:
    if gap < 0:
        return sentence("overlaps another file of the archive")
    if gap:
        return sentence("{count} bytes that belong to no file lie before it", count=gap)
    return None


def _header_problem(file: _File, header: bytes, at: int) -> Sentence | None:
    place = file.differs_from(header, at)
    if place is None:
        return None
    return sentence("its local header contradicts the archive's directory (byte {place})", place=place)
