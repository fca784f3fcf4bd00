"""Reads and judges a ZIP file's directory before anything in it is read.

Python's zipfile is lenient on purpose: it skips bytes before the archive,
cleans names, keeps the last of two equal ones and trusts the directory over
the local headers. Each of those lets one file show different content to
different tools. So the directory is read here by its layout (PKWARE APPNOTE
6.3.10, sections 4.3.7, 4.3.12 to 4.3.16, 4.4 and 4.5.3) and only the plain form
that the app writes is accepted: stored regular files that lie end to end from
the first byte of the file to its directory, with nothing between, before or
behind.
"""

import stat
import struct
from collections.abc import Callable

from msgspec import Struct

from evidence_app import limits
from evidence_app.package.zip.names import name_problem, of_name, twins
from evidence_app.sentence import Sentence, sentence

# An entry of the directory has 46 bytes, its name and at most 28 bytes of ZIP64 sizes.
MAX_DIRECTORY_BYTES = limits.PACKAGE_FILES * (46 + 255 + 28)
MAX_PROBLEMS = 20

_END = struct.Struct("<4s4H2LH")
_END_64 = struct.Struct("<4sQ2H2L4Q")
_LOCATOR = struct.Struct("<4sLQL")
_CENTRAL = struct.Struct("<4s6H3L5H2L")
_LOCAL = struct.Struct("<4s5H3L2H")
_END_MARK, _END_64_MARK, _LOCATOR_MARK = b"PK\x05\x06", b"PK\x06\x06", b"PK\x06\x07"
_CENTRAL_MARK, _LOCAL_MARK = b"PK\x01\x02", b"PK\x03\x04"

_LONGEST_COMMENT = 0xFFFF
_ZIP64 = 0x0001
_FULL_16, _FULL_32 = 0xFFFF, 0xFFFFFFFF
# What the app writes: made on Unix, a regular file rw-r--r--, version 2.0, or 4.5 with ZIP64.
# Nothing is gained by accepting more, and so no byte of the archive can change unnoticed.
_UNIX = 3
_ATTRIBUTES = 0o100644 << 16
_VERSION, _VERSION_64 = 20, 45
_VERSIONS = (_VERSION, _VERSION_64)

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


class _Bad(Exception):
    """A defect after which the rest of the directory cannot be trusted."""

    def __init__(self, template: str, /, **values: object) -> None:
        self.told = Sentence(template, tuple(values.items()))


class _Listed(Struct, frozen=True):
    """One record of the central directory, its ZIP64 values resolved."""

    name: str
    raw_name: bytes
    flags: int
    method: int
    time: int
    date: int
    crc: int
    stored: int
    size: int
    header_at: int


class _End(Struct, frozen=True):
    """Where the directory lies: its first byte, its length, its number of
    entries, and the first byte of the records that follow it."""

    at: int
    length: int
    count: int
    followed_at: int


def read_directory(read_at: ReadAt, file_size: int) -> Directory:
    """Judge the archive whose bytes ``read_at(offset, length)`` gives.

    Raises NotAZip when there is no end record to start from. Every other
    defect is a sentence in ``problems``, naming the entry where it has one.
    """
    tail_at = max(0, file_size - _LONGEST_COMMENT - _END.size)
    tail = read_at(tail_at, file_size - tail_at)
    end_at = _find_end(tail)
    if end_at is None:
        raise NotAZip
    try:
        end = _read_end(read_at, tail_at + end_at, file_size)
        listed, problems = _read_listed(read_at(end.at, end.length), end)
        entries = _read_local(read_at, listed, end, problems) if not problems else ()
    except _Bad as bad:
        return Directory((), (bad.told,))
    if problems:
        return Directory((), tuple(problems[:MAX_PROBLEMS]))
    return Directory(entries, ())


def _find_end(tail: bytes) -> int | None:
    """Offset of the end record in ``tail``: at the very end, or the last one found."""
    exact = len(tail) - _END.size
    if exact >= 0 and tail[exact : exact + 4] == _END_MARK:
        return exact
    found = tail.rfind(_END_MARK)
    return found if 0 <= found <= exact else None


def _read_end(read_at: ReadAt, end_at: int, file_size: int) -> _End:
    _, disk, first_disk, here, count, length, at, comment = _END.unpack(read_at(end_at, _END.size))
    if end_at + _END.size != file_size:
        raise _Bad("{count} bytes follow the end of the archive", count=file_size - end_at - _END.size)
    if comment:
        raise _Bad("the archive has a comment")
    if disk or first_disk or here != count:
        raise _Bad("the archive says that it is spread over several disks")
    locator_at = end_at - _LOCATOR.size
    locator = read_at(locator_at, _LOCATOR.size) if locator_at >= 0 else b""
    if locator.startswith(_LOCATOR_MARK):
        wide = _read_end_64(read_at, locator, locator_at)
        told = (wide.count, wide.length, wide.at)
        agree = all(
            short in (value, full)
            for short, value, full in zip(
                (count, length, at), told, (_FULL_16, _FULL_32, _FULL_32), strict=True
            )
        )
        if not agree:
            raise _Bad("the archive's two end records contradict each other")
        return _bounded(wide)
    return _bounded(_End(at, length, count, end_at))


def _read_end_64(read_at: ReadAt, locator: bytes, locator_at: int) -> _End:
    _, disk, end_64_at, disks = _LOCATOR.unpack(locator)
    if end_64_at + _END_64.size != locator_at:
        raise _Bad("the ZIP64 end record is out of place")
    fields = _END_64.unpack(read_at(end_64_at, _END_64.size))
    mark, record_length, made_by, version, this_disk, first_disk, here, count, length, at = fields
    if (mark, record_length, made_by, version) != (
        _END_64_MARK, _END_64.size - 12, _VERSION_64, _VERSION_64,
    ):  # fmt: skip
        raise _Bad("the ZIP64 end record is malformed")
    if disk or this_disk or first_disk or disks != 1 or here != count:
        raise _Bad("the archive says that it is spread over several disks")
    return _End(at, length, count, end_64_at)


def _bounded(end: _End) -> _End:
    if end.count > limits.PACKAGE_FILES:
        raise _Bad(
            "the archive lists {count} files; at most {most} are accepted",
            count=end.count,
            most=limits.PACKAGE_FILES,
        )
    if end.length > MAX_DIRECTORY_BYTES:
        raise _Bad("the archive's directory has {count} bytes, more than is accepted", count=end.length)
    if end.at + end.length != end.followed_at:
        raise _Bad("the archive's directory is not where its end record says, or bytes were put in")
    if end.count == 0:
        raise _Bad("the archive is empty")
    return end


def _read_listed(data: bytes, end: _End) -> tuple[list[_Listed], list[Sentence]]:
    listed, problems = [], []
    at = 0
    for number in range(1, end.count + 1):
        if at + _CENTRAL.size > len(data):
            raise _Bad(
                "the archive's directory ends before entry {number} of {count}",
                number=number,
                count=end.count,
            )
        record, problem, at = _read_record(data, at, number)
        listed.append(record)
        if problem:
            problems.append(of_name(record.name, problem))
    if at != len(data):
        raise _Bad("the archive's directory holds more than its entries")
    problems.extend(twins(record.name for record in listed))
    if not problems and len({record.name.split("/")[0] for record in listed}) != 1:
        problems.append(sentence("the archive has more than one top folder"))
    return listed, problems


def _read_record(data: bytes, at: int, number: int) -> tuple[_Listed, Sentence | None, int]:
    (
        mark, made_by, version, flags, method, time, date, crc, stored, size,
        name_length, extra_length, comment_length, disk, internal, attributes, header_at,
    ) = _CENTRAL.unpack_from(data, at)  # fmt: skip
    if mark != _CENTRAL_MARK:
        raise _Bad("entry {number} of the archive's directory is malformed", number=number)
    name_at = at + _CENTRAL.size
    extra_at = name_at + name_length
    next_at = extra_at + extra_length + comment_length
    if next_at > len(data):
        raise _Bad("entry {number} of the archive's directory is longer than the directory", number=number)
    raw_name = data[name_at:extra_at]
    name = raw_name.decode("utf-8", "surrogateescape")
    wide = _zip64_values(data[extra_at : extra_at + extra_length], (size, stored, header_at))
    if wide is not None:
        size, stored, header_at = wide
    problem = (
        name_problem(name)
        or _flag_problem(flags)
        or _kind_problem(attributes)
        or (sentence("is compressed; a package stores its files as they are") if method else None)
        or (
            sentence("was not written by the app")
            if internal or version not in _VERSIONS or made_by != _UNIX << 8 | version
            else None
        )
        or (sentence("has extra fields or a comment") if wide is None or comment_length else None)
        or (sentence("is on another disk") if disk else None)
        or (sentence("has two different sizes though it is stored") if stored != size else None)
    )
    record = _Listed(name, raw_name, flags, method, time, date, crc, stored, size, header_at)
    return record, problem, next_at


def _zip64_values(extra: bytes, values: tuple[int, ...]) -> tuple[int, ...] | None:
    """``values`` with each full field taken from the ZIP64 extra field (4.5.3).

    None when the extra field is anything but exactly the values that are full.
    """
    full = [value == _FULL_32 for value in values]
    if not extra and not any(full):
        return values
    length = 8 * sum(full)
    if not length or len(extra) != 4 + length or struct.unpack_from("<2H", extra) != (
        _ZIP64, length,
    ):  # fmt: skip
        return None
    wide = iter(struct.unpack_from(f"<{sum(full)}Q", extra, 4))
    return tuple(next(wide) if is_full else value for is_full, value in zip(full, values, strict=True))


def _flag_problem(flags: int) -> Sentence | None:
    if flags & 0x2041:
        return sentence("is encrypted")
    if flags & 0x0008:
        return sentence("gives its size only behind its data")
    if flags:
        return sentence("has flags that are not accepted")
    return None


def _kind_problem(attributes: int) -> Sentence | None:
    if attributes == _ATTRIBUTES:
        return None
    if stat.S_ISLNK(attributes >> 16):
        return sentence("is a symbolic link")
    if stat.S_ISREG(attributes >> 16):
        return sentence("has other rights than rw-r--r--")
    return sentence("is not a regular file")


def _read_local(
    read_at: ReadAt, listed: list[_Listed], end: _End, problems: list[Sentence]
) -> tuple[ZipEntry, ...]:
    """The entries, after their local headers were compared with the directory.

    Entries must lie end to end from byte 0 to the directory. That one rule
    refuses overlaps, gaps, bytes before the archive, and any total size beyond
    the file's own.
    """
    entries = []
    expected_at = 0
    for record in sorted(listed, key=lambda record: record.header_at):
        if record.header_at != expected_at:
            problems.append(_place_problem(record, expected_at))
            break
        entry = _local_entry(read_at, record, end.at)
        if isinstance(entry, Sentence):
            problems.append(of_name(record.name, entry))
            break
        entries.append(entry)
        expected_at = entry.data_at + entry.size
    else:
        if expected_at != end.at:
            problems.append(
                sentence(
                    "{count} bytes that belong to no file lie before the directory",
                    count=end.at - expected_at,
                )
            )
    return tuple(entries)


def _place_problem(record: _Listed, expected_at: int) -> Sentence:
    if record.header_at < expected_at:
        return of_name(record.name, sentence("overlaps another file of the archive"))
    gap = record.header_at - expected_at
    return of_name(record.name, sentence("{count} bytes that belong to no file lie before it", count=gap))


def _local_entry(read_at: ReadAt, record: _Listed, limit: int) -> ZipEntry | Sentence:
    name_at = record.header_at + _LOCAL.size
    if name_at + len(record.raw_name) > limit:
        return sentence("lies beyond the end of the files")
    header = _LOCAL.unpack(read_at(record.header_at, _LOCAL.size))
    mark, version, flags, method, time, date, crc, stored, size, name_length, extra_length = header
    if mark != _LOCAL_MARK:
        return sentence("has no local header where the directory says")
    rest = read_at(name_at, name_length + extra_length)
    wide = _zip64_values(rest[name_length:], (size, stored))
    if wide is None:
        return sentence("has extra fields in its local header")
    local = (flags, method, time, date, crc, *wide, rest[:name_length])
    central = (
        record.flags, record.method, record.time, record.date, record.crc,
        record.size, record.stored, record.raw_name,
    )  # fmt: skip
    if local != central or version not in _VERSIONS:
        return sentence("its local header contradicts the archive's directory")
    data_at = name_at + name_length + extra_length
    if data_at + record.size > limit:
        return sentence("is longer than the archive")
    return ZipEntry(record.name, record.header_at, data_at, record.size, record.crc)
