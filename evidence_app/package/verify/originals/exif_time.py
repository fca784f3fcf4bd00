"""The time and camera that a photo carries inside itself, read from its first bytes only.

Of a photo of many megabytes the beginning is enough: CIPA DC-008 (Exif 2.32)
4.7.2 puts the APP1 segment directly behind the start marker, and cameras write
its tags before the thumbnail that fills the rest of it. Four text tags are read here directly (TIFF 6.0
section 2), because a whole reader of Exif costs more per photo than all other
checks of it together.
"""

import re
import struct
from contextlib import suppress
from datetime import datetime

from evidence_app import limits
from evidence_app.record import times

HEAD_BYTES = 16_384

_START = b"\xff\xd8"
_APP1 = 0xE1
_APPLICATION = range(0xE0, 0xF0)
_EXIF = b"Exif\0\0"
_ORDERS = {b"II*\0": "<", b"MM\0*": ">"}
_EXIF_IFD = 0x8769
_MODEL = 0x0110
_TAKEN, _OFFSET, _FRACTION = 0x9003, 0x9011, 0x9291
_ASCII, _LONG = 2, 4
_DATE_TIME = re.compile(r"(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)", re.ASCII)


def time_taken(head: bytes) -> datetime | None:
    """DateTimeOriginal with its sub-seconds and offset, from a JPEG's first HEAD_BYTES.

    Without an offset the time has no time zone. None when the photo carries no
    such time, or one that cannot be read: a damaged Exif block is as good as none.
    """
    block = _exif_block(head)
    with suppress(struct.error, KeyError):
        order, first = _order_and_first(block)
        details = first.get(_EXIF_IFD)
        if details is None or details[0] != _LONG:
            return None
        (at,) = struct.unpack(f"{order}L", details[2])
        tags = _directory(block, order, at)
        return _moment(*(_text(block, order, tags.get(tag)) for tag in (_TAKEN, _FRACTION, _OFFSET)))
    return None


def camera_named(head: bytes) -> str:
    """Model of the camera, from a JPEG's first HEAD_BYTES; empty when there is none."""
    block = _exif_block(head)
    with suppress(struct.error, KeyError):
        order, first = _order_and_first(block)
        return _text(block, order, first.get(_MODEL))
    return ""


def _order_and_first(block: bytes) -> tuple[str, dict[int, tuple[int, int, bytes]]]:
    """Byte order and first directory. Raises KeyError or struct.error for what is none."""
    order = _ORDERS[block[:4]]
    (at,) = struct.unpack_from(f"{order}L", block, 4)
    return order, _directory(block, order, at)


def _exif_block(head: bytes) -> bytes:
    """The TIFF data of the Exif segment among the leading APP segments; empty without one."""
    at = len(_START)
    if not head.startswith(_START):
        return b""
    while at + 4 <= len(head) and head[at] == 0xFF and head[at + 1] in _APPLICATION:
        length = int.from_bytes(head[at + 2 : at + 4], "big")
        content = head[at + 4 : at + 2 + length]
        if head[at + 1] == _APP1 and content.startswith(_EXIF):
            return content[len(_EXIF) :]
        at += 2 + length
    return b""


def _directory(block: bytes, order: str, at: int) -> dict[int, tuple[int, int, bytes]]:
    """Tag to type, count and the four bytes of value or offset. Raises struct.error."""
    (count,) = struct.unpack_from(f"{order}H", block, at)
    entry = struct.Struct(f"{order}HHL4s")
    entries = (entry.unpack_from(block, at + 2 + 12 * i) for i in range(min(count, limits.EXIF_ENTRIES)))
    return {tag: (kind, length, value) for tag, kind, length, value in entries}


def _text(block: bytes, order: str, found: tuple[int, int, bytes] | None) -> str:
    if found is None or found[0] != _ASCII:
        return ""
    _, length, value = found
    if length > 4:
        (at,) = struct.unpack(f"{order}L", value)
        value = block[at : at + length]
    return value[:length].decode("ascii", "replace").strip(" \0")


def _moment(taken: str, fraction: str, offset: str) -> datetime | None:
    found = _DATE_TIME.fullmatch(taken)
    if not found:
        return None
    text = "{}-{}-{}T{}".format(*found.groups())
    if re.fullmatch(r"[0-9]{1,9}", fraction):
        text += f".{fraction}"
    try:
        moment = times.parse(text + (offset or "Z"))
    except ValueError:
        return None
    return moment if offset else moment.replace(tzinfo=None)
