"""Whether bytes are a whole JPEG, judged by structure alone, without decoding.

Follows the marker syntax of ITU-T T.81 annex B. A file that is still being copied
lacks its end-of-image marker; looking at the last two bytes is not enough, since
cameras put previews before and further data behind the picture.
"""

import re
from enum import Enum

_START = b"\xff\xd8"
_FRAME_HEADERS = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_SCAN, _END = 0xDA, 0xD9
_STANDALONE = frozenset({0x01, *range(0xD0, 0xD8)})
# In a scan, 0xFF 0x00 is a data byte, 0xFF 0xD0..D7 a restart, 0xFF 0xFF fill.
_MARKER_IN_SCAN = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")


class Wholeness(Enum):
    WHOLE = "whole"
    PARTIAL = "partial"  # right so far, but it ends too early
    OTHER = "other"  # whatever follows, it will not become a JPEG


def wholeness(data: bytes) -> Wholeness:
    """Walk the markers from start-of-image to end-of-image."""
    if not data.startswith(_START):
        return Wholeness.PARTIAL if _START.startswith(data[:2]) else Wholeness.OTHER
    position = 2
    framed = scanned = False
    while True:
        if position < len(data) and data[position] != 0xFF:
            return Wholeness.OTHER
        while position < len(data) and data[position] == 0xFF:  # fill bytes may precede a marker
            position += 1
        if position >= len(data):
            return Wholeness.PARTIAL
        marker = data[position]
        position += 1
        if marker == _END:
            return Wholeness.WHOLE if framed and scanned else Wholeness.OTHER
        if marker in _STANDALONE:
            continue
        length = int.from_bytes(data[position : position + 2], "big")
        if len(data) < position + 2:
            return Wholeness.PARTIAL
        if marker == 0x00 or length < 2:
            return Wholeness.OTHER
        if marker in _FRAME_HEADERS and length >= 8:
            framed = framed or data[position + 3 : position + 7] != bytes(4)
        position += length
        if marker == _SCAN:
            scanned = True
            found = _MARKER_IN_SCAN.search(data, position)
            if not found:
                return Wholeness.PARTIAL
            position = found.start()
