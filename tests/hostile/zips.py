"""A ZIP writer that can be told to lie, field by field (PKWARE APPNOTE 6.3.10)."""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass, field
from typing import Any

TIME, DATE = 0x41E7, 0x5C62  # 08:15:14 on 2026-03-02
REGULAR = 0o100644 << 16
UNIX = 3 << 8


@dataclass
class Entry:
    """One file. ``central`` and ``local`` override header fields: name, flags,
    method, crc, stored, size, extra, and for the directory made_by, disk,
    attributes, header_at, comment."""

    name: bytes
    data: bytes
    central: dict[str, Any] = field(default_factory=dict)
    local: dict[str, Any] = field(default_factory=dict)
    before: bytes = b""
    """Bytes put in front of the local header, belonging to no file."""
    unwritten: bool = False
    """Listed in the directory only."""

    def both(self, **fields: Any) -> Entry:
        self.central |= fields
        self.local |= fields
        return self


def entries_of(top: str, files: dict[str, bytes]) -> list[Entry]:
    return [Entry(f"{top}/{name}".encode(), data) for name, data in files.items()]


def write(
    entries: list[Entry],
    *,
    prefix: bytes = b"",
    suffix: bytes = b"",
    before_directory: bytes = b"",
    end: dict[str, Any] | None = None,
) -> bytes:
    """The archive's bytes. ``end`` overrides disk, first_disk, here, count,
    length, at or comment of the end record."""
    body = bytearray(prefix)
    directory = bytearray()
    for entry in entries:
        body += entry.before
        header_at = len(body)
        if not entry.unwritten:
            body += _local(entry) + entry.data
        directory += _central(entry, header_at)
    body += before_directory
    at = len(body)
    told = {"disk": 0, "first_disk": 0, "here": len(entries), "count": len(entries),
            "length": len(directory), "at": at, "comment": b""} | (end or {})  # fmt: skip
    record = struct.pack("<4s4H2LH", b"PK\x05\x06", told["disk"], told["first_disk"], told["here"],
                         told["count"], told["length"], told["at"], len(told["comment"]))  # fmt: skip
    return bytes(body) + bytes(directory) + record + told["comment"] + suffix


def _fields(entry: Entry, overrides: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": entry.name, "flags": 0, "method": 0, "crc": zlib.crc32(entry.data),
        "stored": len(entry.data), "size": len(entry.data), "extra": b"", "made_by": UNIX | 20,
        "disk": 0, "attributes": REGULAR, "comment": b"", "version": 20, "time": TIME,
    } | overrides  # fmt: skip


def _local(entry: Entry) -> bytes:
    f = _fields(entry, entry.local)
    header = struct.pack("<4s5H3L2H", b"PK\x03\x04", f["version"], f["flags"], f["method"],
                         f["time"], DATE, f["crc"], f["stored"], f["size"], len(f["name"]),
                         len(f["extra"]))  # fmt: skip
    return header + f["name"] + f["extra"]


def _central(entry: Entry, header_at: int) -> bytes:
    f = {"header_at": header_at} | _fields(entry, entry.central)
    header = struct.pack("<4s6H3L5H2L", b"PK\x01\x02", f["made_by"], f["version"], f["flags"],
                         f["method"], f["time"], DATE, f["crc"], f["stored"], f["size"],
                         len(f["name"]), len(f["extra"]), len(f["comment"]), f["disk"], 0,
                         f["attributes"], f["header_at"])  # fmt: skip
    return header + f["name"] + f["extra"] + f["comment"]
