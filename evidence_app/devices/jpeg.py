"""Whether bytes are a whole JPEG, judged by structure alone, without decoding.

A file that is still being copied lacks its end-of-image marker; looking at the last two bytes
is not enough, since cameras put previews before and further data behind the picture.
"""

from enum import Enum

from evidence_app.photo.jpeg import FRAMES, SCAN, START, NoSegment, segments


class Wholeness(Enum):
    WHOLE = "whole"
    PARTIAL = "partial"  # right so far, but it ends too early
    OTHER = "other"  # whatever follows, it will not become a JPEG


def wholeness(data: bytes) -> Wholeness:
    """Walk the markers from start-of-image to end-of-image."""
    if not data.startswith(START):
        return Wholeness.PARTIAL if START.startswith(data[:2]) else Wholeness.OTHER
    framed = scanned = False
    try:
        for marker, start, end in segments(data):
            if marker in FRAMES and end - start >= 6:
                framed = framed or data[start + 1 : start + 5] != bytes(4)
            scanned = scanned or marker == SCAN
    except NoSegment as broken:
        return Wholeness.PARTIAL if broken.cut else Wholeness.OTHER
    return Wholeness.WHOLE if framed and scanned else Wholeness.OTHER
