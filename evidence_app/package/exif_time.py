"""The time that a photo carries inside itself, read from its first bytes only.

Of a photo of many megabytes the first segments are enough: CIPA DC-008 (Exif
2.32) 4.7.2 puts the APP1 segment directly behind the start marker, and a
segment has at most 64 KiB.
"""

from __future__ import annotations

import re
from datetime import datetime

from PIL import Image

from evidence_app.record import times

HEAD_BYTES = 70_000

_START = b"\xff\xd8"
_APP1 = 0xE1
_APPLICATION = range(0xE0, 0xF0)
_EXIF = b"Exif\0\0"
_EXIF_IFD = 0x8769
_TAKEN, _OFFSET, _FRACTION = 0x9003, 0x9011, 0x9291
_DATE_TIME = re.compile(r"(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)")


def time_taken(head: bytes) -> datetime | None:
    """DateTimeOriginal with its sub-seconds and offset, from a JPEG's first HEAD_BYTES.

    Without an offset the time has no time zone. None when the photo carries no
    such time, or one that cannot be read: a damaged Exif block is as good as none.
    """
    block = _exif_block(head)
    if block is None:
        return None
    try:
        exif = Image.Exif()
        exif.load(block)
        details = exif.get_ifd(_EXIF_IFD)
    except Exception:  # hostile Exif raises struct, value, key and syntax errors alike
        return None
    return _moment(*(str(details.get(tag, "")).strip(" \0") for tag in (_TAKEN, _FRACTION, _OFFSET)))


def _exif_block(head: bytes) -> bytes | None:
    """The Exif segment's content, looked for among the leading APP segments."""
    if not head.startswith(_START):
        return None
    at = len(_START)
    while at + 4 <= len(head) and head[at] == 0xFF and head[at + 1] in _APPLICATION:
        length = int.from_bytes(head[at + 2 : at + 4], "big")
        content = head[at + 4 : at + 2 + length]
        if head[at + 1] == _APP1 and content.startswith(_EXIF):
            return content
        at += 2 + length
    return None


def _moment(taken: str, fraction: str, offset: str) -> datetime | None:
    found = _DATE_TIME.fullmatch(taken)
    if not found:
        return None
    text = "{}-{}-{}T{}".format(*found.groups())
    if re.fullmatch(r"[0-9]{1,9}", fraction):
        text += f".{fraction}"
    try:
        return times.parse(text + (offset or "Z")) if offset else times.parse(f"{text}Z").replace(
            tzinfo=None
        )  # fmt: skip
    except ValueError:
        return None
