"""Attacks on the ZIP file around the bag: what one tool sees and another does not."""

from __future__ import annotations

import stat
import struct
import zlib
from typing import Any

from evidence_app.limits import PACKAGE_FILES
from tests.hostile import zips
from tests.hostile.bag import Bag
from tests.hostile.registry import attack

_FIFO = (stat.S_IFIFO | 0o644) << 16
_LINK = (stat.S_IFLNK | 0o777) << 16
_FOLDER = (stat.S_IFDIR | 0o755) << 16 | 0x10
_FULL = 0xFFFFFFFF


@attack("archive")
def bytes_before(bag: Bag) -> bytes:
    """Another file in front, which tools that read from the start see instead."""
    return bag.zip(prefix=b"#!/bin/sh\necho accepted\n")


@attack("archive")
def bytes_before_unmentioned(bag: Bag) -> bytes:
    """Bytes in front that no offset knows, which lenient readers skip."""
    return b"\0" * 64 + bag.zip()


@attack("archive")
def bytes_behind(bag: Bag) -> bytes:
    """Bytes behind the end of the archive."""
    return bag.zip(suffix=b"\0" * 16)


@attack("archive")
def second_archive_behind(bag: Bag) -> bytes:
    """A whole other archive appended: some tools read the first, some the last."""
    other = Bag(bag.top, {"data/report.html": b"<p>All in order."})
    return bag.zip() + other.zip()


@attack("archive")
def archive_comment(bag: Bag) -> bytes:
    """A comment that looks like another end of the archive."""
    return bag.zip(end={"comment": b"PK\x05\x06" + b"\0" * 30})


@attack("archive")
def bytes_between_files(bag: Bag) -> bytes:
    """Bytes that belong to no file between two files."""
    entries = bag.entries()
    entries[3].before = b"hidden" * 100
    return zips.write(entries)


@attack("archive")
def bytes_before_directory(bag: Bag) -> bytes:
    """Bytes that belong to no file before the directory."""
    return bag.zip(before_directory=b"hidden" * 100)


@attack("archive")
def unlisted_file(bag: Bag) -> bytes:
    """A file that stands in the archive and not in its directory."""
    entries = bag.entries()
    hidden = Bag(bag.top, {"data/photos/hidden.jpg": b"\xff\xd8\xff\xd9"}).zip()
    entries[2].before = hidden[: hidden.index(b"PK\x01\x02")]
    return zips.write(entries)


@attack("archive")
def name_leads_out(bag: Bag) -> bytes:
    """A name with ``..`` that is unpacked outside its folder."""
    return _with_name(bag, "{top}/../../escaped.txt")


@attack("archive")
def name_stays_in_place(bag: Bag) -> bytes:
    """A name with ``.`` that is the same file under another name."""
    return _with_name(bag, "{top}/./more.txt")


@attack("archive")
def name_absolute(bag: Bag) -> bytes:
    """A name from the root of the disk."""
    return _with_name(bag, "/tmp/escaped.txt")


@attack("archive")
def name_with_drive(bag: Bag) -> bytes:
    """A name on a drive."""
    return _with_name(bag, "C:/escaped.txt")


@attack("archive")
def name_with_backslash(bag: Bag) -> bytes:
    """A name whose parts are only parts on Windows."""
    return _with_name(bag, "{top}\\..\\escaped.txt")


@attack("archive")
def name_with_nul(bag: Bag) -> bytes:
    """A name that ends earlier for some readers."""
    return _with_name(bag, "{top}/seal.json\0.txt")


@attack("archive")
def name_with_escape_codes(bag: Bag) -> bytes:
    """A name that tells a terminal what to do."""
    return _with_name(bag, "{top}/\x1b[2Jmore.txt")


@attack("archive")
def name_of_a_windows_device(bag: Bag) -> bytes:
    """A name that is no file on Windows."""
    return _with_name(bag, "{top}/data/nul.txt")


@attack("archive")
def name_with_stream(bag: Bag) -> bytes:
    """A name that is a hidden stream of another file on Windows."""
    return _with_name(bag, "{top}/seal.json:more")


@attack("archive")
def name_with_trailing_dot(bag: Bag) -> bytes:
    """A name that Windows takes for another file's."""
    return _with_name(bag, "{top}/seal.json.")


@attack("archive")
def name_too_long(bag: Bag) -> bytes:
    """A name longer than systems take."""
    return _with_name(bag, "{top}/" + "a" * 300)


@attack("archive")
def name_empty(bag: Bag) -> bytes:
    """A file without a name."""
    return _with_name(bag, "")


@attack("archive")
def name_twice(bag: Bag) -> bytes:
    """Two files of one name: tools disagree which one counts."""
    return _with_name(bag, "{top}/data/report.html")


@attack("archive")
def name_twice_in_other_case(bag: Bag) -> bytes:
    """Two names that are one file on Windows and macOS."""
    return _with_name(bag, "{top}/data/Report.html")


@attack("archive")
def name_twice_in_other_normal_form(bag: Bag) -> bytes:
    """Two names that look alike and are one file on macOS."""
    entries = _added(bag, "{top}/data/é.txt")
    entries.append(zips.Entry(f"{bag.top}/data/e\u0301.txt".encode(), b"x").both(flags=0x800))
    return zips.write(entries)


@attack("archive")
def name_not_text(bag: Bag) -> bytes:
    """A name in no encoding."""
    return zips.write([*bag.entries(), zips.Entry(b"\xff\xfe/more", b"x")])


@attack("archive")
def file_that_is_a_folder(bag: Bag) -> bytes:
    """A file whose name is the folder of other files."""
    return _with_name(bag, "{top}/data/photos")


@attack("archive")
def folder_entry(bag: Bag) -> bytes:
    """A folder of its own, which may carry rights and needs no file."""
    return _with_name(bag, "{top}/empty/", b"", attributes=_FOLDER)


@attack("archive")
def symbolic_link(bag: Bag) -> bytes:
    """A link to a file outside."""
    return _with_name(bag, "{top}/data/photos/more.jpg", b"/etc/passwd", attributes=_LINK)


@attack("archive")
def named_pipe(bag: Bag) -> bytes:
    """A pipe that a reader waits on for ever."""
    return _with_name(bag, "{top}/data/photos/more.jpg", b"", attributes=_FIFO)


@attack("archive")
def two_top_folders(bag: Bag) -> bytes:
    """A second package beside the first."""
    return _with_name(bag, "evidence-other/bagit.txt")


@attack("archive")
def file_beside_top_folder(bag: Bag) -> bytes:
    """A file outside the bag, which no manifest of the bag covers."""
    return _with_name(bag, "READ-ME-FIRST.txt")


@attack("archive")
def overlapping_files(bag: Bag) -> bytes:
    """Two names for the same bytes, the way small bombs are made."""
    entries = bag.entries()
    twin = zips.Entry(f"{bag.top}/data/twin.bin".encode(), entries[0].data, unwritten=True)
    twin.central["header_at"] = 0
    return zips.write([*entries, twin])


@attack("archive")
def files_nested_in_each_other(bag: Bag) -> bytes:
    """A file whose bytes contain another listed file."""
    inner = bag.entries()[0]
    whole = zips.write([inner])
    outer = zips.Entry(f"{bag.top}/data/outer.bin".encode(), whole[: whole.index(b"PK\x01\x02")])
    listed = zips.Entry(inner.name, inner.data, unwritten=True)
    listed.central["header_at"] = 30 + len(outer.name)
    return zips.write([outer, listed, *bag.entries()[1:]])


@attack("archive")
def local_name_differs(bag: Bag) -> bytes:
    """A name in front of the data that is not the one in the directory."""
    entries = bag.entries()
    entries[0].local["name"] = entries[0].name.replace(b"step-list", b"Step-list")
    return zips.write(entries)


@attack("archive")
def local_size_differs(bag: Bag) -> bytes:
    """A size in front of the data that is not the one in the directory."""
    entries = bag.entries()
    entries[0].local |= {"size": 1, "stored": 1}
    return zips.write(entries)


@attack("archive")
def local_checksum_differs(bag: Bag) -> bytes:
    """A CRC-32 in front of the data that is not the one in the directory."""
    entries = bag.entries()
    entries[0].local["crc"] = 0
    return zips.write(entries)


@attack("archive")
def local_header_missing(bag: Bag) -> bytes:
    """A directory that points at something that is no file."""
    data = bytearray(bag.zip())
    data[0:4] = b"XXXX"
    return bytes(data)


@attack("archive")
def size_beyond_the_archive(bag: Bag) -> bytes:
    """A last file that reaches into the directory."""
    entries = bag.entries()
    size = len(entries[-1].data) + 1000
    entries[-1].both(size=size, stored=size)
    return zips.write(entries)


@attack("archive")
def offset_beyond_the_archive(bag: Bag) -> bytes:
    """A file that begins behind the end."""
    entries = bag.entries()
    entries[-1].central["header_at"] = 0x7FFFFFFF
    return zips.write(entries)


@attack("archive")
def deflated_file(bag: Bag) -> bytes:
    """A compressed file: the sealed bytes are not those in the archive."""
    entries = bag.entries()
    report = next(entry for entry in entries if entry.name.endswith(b"report.html"))
    _deflate(report)
    return zips.write(entries)


@attack("archive")
def bomb(bag: Bag) -> bytes:
    """A file of kilobytes that becomes 100 MB."""
    bomb = _deflate(zips.Entry(f"{bag.top}/data/photos/more.jpg".encode(), b"\0" * 100_000_000))
    return zips.write([*bag.entries(), bomb])


@attack("archive")
def sizes_of_a_stored_file_differ(bag: Bag) -> bytes:
    """A stored file told larger than its bytes."""
    entries = bag.entries()
    entries[0].both(size=4_000_000_000)
    return zips.write(entries)


@attack("archive")
def encrypted_file(bag: Bag) -> bytes:
    """A file that only some can read."""
    entries = bag.entries()
    entries[0].both(flags=1)
    return zips.write(entries)


@attack("archive")
def size_behind_the_data(bag: Bag) -> bytes:
    """A file whose end is told only behind it: tools find different ends."""
    entries = bag.entries()
    entries[0].both(flags=8)
    return zips.write(entries)


@attack("archive")
def second_name_in_extra_field(bag: Bag) -> bytes:
    """A Unicode name (extra field 0x7075) that replaces the plain one for some tools."""
    entries = bag.entries()
    name = entries[0].name.replace(b"step-list", b"other-list")
    content = struct.pack("<BL", 1, zlib.crc32(entries[0].name)) + name
    entries[0].central["extra"] = struct.pack("<2H", 0x7075, len(content)) + content
    return zips.write(entries)


@attack("archive")
def entry_comment(bag: Bag) -> bytes:
    """A comment on a file, which nothing covers."""
    entries = bag.entries()
    entries[0].central["comment"] = b"seen and accepted"
    return zips.write(entries)


@attack("archive")
def zip64_size_contradicts(bag: Bag) -> bytes:
    """A 64-bit size that stands beside a true 32-bit one."""
    entries = bag.entries()
    extra = struct.pack("<2HQ", 1, 8, 5)
    entries[0].central["extra"] = extra
    return zips.write(entries)


@attack("archive")
def zip64_size_gigantic(bag: Bag) -> bytes:
    """A 64-bit size of exabytes."""
    entries = bag.entries()
    extra = struct.pack("<2H2Q", 1, 16, 2**62, 2**62)
    entries[0].both(size=_FULL, stored=_FULL, extra=extra)
    return zips.write(entries)


@attack("archive")
def zip64_end_contradicts(bag: Bag) -> bytes:
    """A 64-bit end record that points at another directory than the 32-bit one."""
    data = bag.zip()
    end = data[-22:]
    at, length, count = len(data) - 22, *struct.unpack_from("<LH", end, 12)[:1], 1
    record = struct.pack("<4sQ2H2L4Q", b"PK\x06\x06", 44, 45, 45, 0, 0, count, count, length, 0)
    locator = struct.pack("<4sLQL", b"PK\x06\x07", 0, at, 1)
    return data[:-22] + record + locator + end


@attack("archive")
def zip64_end_without_need(bag: Bag) -> bytes:
    """A true 64-bit end record that a small archive has no use for, and some tools do not read."""
    data = bag.zip()
    count, length, at = struct.unpack_from("<H2L", data, len(data) - 12)
    record = struct.pack("<4sQ2H2L4Q", b"PK\x06\x06", 44, 45, 45, 0, 0, count, count, length, at)
    locator = struct.pack("<4sLQL", b"PK\x06\x07", 0, len(data) - 22, 1)
    return data[:-22] + record + locator + data[-22:]


@attack("archive")
def directory_in_other_order(bag: Bag) -> bytes:
    """A directory that lists the files in another order than they lie."""
    entries = bag.entries()
    data = zips.write(entries)
    places = [data.index(b"PK\x03\x04")]
    for entry in entries[:-1]:
        places.append(places[-1] + 30 + len(entry.name) + len(entry.data))
    for entry, place in zip(entries, places, strict=True):
        entry.central["header_at"] = place
    listed = [zips.write([zips.Entry(e.name, e.data, e.central, unwritten=True)])[:-22] for e in entries]
    files = data[: data.index(b"PK\x01\x02")]
    return files + b"".join(reversed(listed)) + data[-22:]


@attack("archive")
def several_disks(bag: Bag) -> bytes:
    """An archive that says the rest is on another disk."""
    return bag.zip(end={"disk": 1})


@attack("archive")
def count_too_small(bag: Bag) -> bytes:
    """A directory with an entry more than is told: tools disagree on the last one."""
    count = len(bag.files) - 1
    return bag.zip(end={"here": count, "count": count})


@attack("archive")
def count_too_large(bag: Bag) -> bytes:
    """A directory with an entry fewer than is told."""
    count = len(bag.files) + 1
    return bag.zip(end={"here": count, "count": count})


@attack("archive")
def too_many_files(bag: Bag) -> bytes:
    """More files than any job has, to wear the reader out."""
    more = {f"data/photos/{n}.jpg": b"" for n in range(PACKAGE_FILES)}
    return Bag(bag.top, bag.files | more).zip()


@attack("archive")
def no_files(bag: Bag) -> bytes:
    """An archive of nothing."""
    return zips.write([])


@attack(None)
def cut_in_the_middle(bag: Bag) -> bytes:
    """A copy that was interrupted."""
    data = bag.zip()
    return data[: len(data) // 2]


@attack(None)
def cut_by_one_byte(bag: Bag) -> bytes:
    """A copy that lacks its last byte."""
    return bag.zip()[:-1]


@attack(None)
def directory_cut_off(bag: Bag) -> bytes:
    """All files and no directory."""
    data = bag.zip()
    return data[: data.index(b"PK\x01\x02")]


@attack(None)
def no_archive(bag: Bag) -> bytes:
    """A photo with the name of a package."""
    return bag.files[bag.first("data/photos/")]


@attack(None)
def empty_file(bag: Bag) -> bytes:
    """Nothing with the name of a package."""
    return b""


def _added(bag: Bag, name: str, data: bytes = b"more", **fields: Any) -> list[zips.Entry]:
    raw = name.replace("{top}", bag.top).encode()
    flags = {} if raw.isascii() else {"flags": 0x800}
    entry = zips.Entry(raw, data, central=fields | flags, local=dict(flags))
    return [*bag.entries(), entry]


def _with_name(bag: Bag, name: str, data: bytes = b"more", **fields: Any) -> bytes:
    return zips.write(_added(bag, name, data, **fields))


def _deflate(entry: zips.Entry) -> zips.Entry:
    whole, crc = len(entry.data), zlib.crc32(entry.data)
    deflater = zlib.compressobj(9, zlib.DEFLATED, -15)
    entry.data = deflater.compress(entry.data) + deflater.flush()
    return entry.both(method=8, size=whole, stored=len(entry.data), crc=crc)
