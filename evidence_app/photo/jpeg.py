"""The marker segments of a JPEG, read by structure alone, without decoding (ITU-T T.81 annex B)."""

import re
from collections.abc import Iterator
from typing import NamedTuple

START = b"\xff\xd8"
FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
SCAN, END = 0xDA, 0xD9
_WITHOUT_LENGTH = frozenset({0x01, *range(0xD0, 0xD8)})
_NO_SEGMENT = (0x00, START[1])
# In a scan, 0xFF 0x00 is a data byte, 0xFF 0xD0..D7 a restart, 0xFF 0xFF fill.
_MARKER_IN_SCAN = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")


class Segment(NamedTuple):
    """Its content lies from ``start`` up to ``end``; that of END is empty."""

    marker: int
    start: int
    end: int


class NoSegment(Exception):
    """The markers do not go on; with ``cut`` only because the bytes end here."""

    def __init__(self, cut: bool) -> None:
        self.cut = cut


def segments(data: bytes) -> Iterator[Segment]:
    """Each segment behind the start of the image, up to the end of the image. Raises NoSegment."""
    at = len(START)
    while True:
        if at < len(data) and data[at] != 0xFF:
            raise NoSegment(cut=False)
        while at < len(data) and data[at] == 0xFF:  # fill bytes may precede a marker
            at += 1
        if at >= len(data):
            raise NoSegment(cut=True)
        marker = data[at]
        at += 1
        if marker == END:
            yield Segment(marker, at, at)
            return
        if marker in _WITHOUT_LENGTH:
            continue
        if marker in _NO_SEGMENT:
            raise NoSegment(cut=False)
        if at + 2 > len(data):
            raise NoSegment(cut=True)
        length = int.from_bytes(data[at : at + 2], "big")
        if length < 2:
            raise NoSegment(cut=False)
        segment = Segment(marker, at + 2, at + length)
        if segment.end > len(data):
            raise NoSegment(cut=True)
        yield segment
        at = segment.end
        if marker == SCAN:
            found = _MARKER_IN_SCAN.search(data, at)
            if not found:
                raise NoSegment(cut=True)
            at = found.start()
