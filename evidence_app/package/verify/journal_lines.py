"""Reads a whole journal quickly, and as strictly as :func:`record.event.from_line`.

The RFC 8785 library is written in Python and takes most of the time that a
large journal costs. msgspec writes the same bytes in nearly every case, so a
line that msgspec writes back exactly as it was is canonical unless it holds one
of the few things that the two write differently; those lines, and every line
with something wrong, go the long way.
"""

import re
from typing import Any

import msgspec

from evidence_app.record import times
from evidence_app.record.event import LINE_END, LINE_MIDDLE, LINE_START, TAIL_LENGTH, Event, from_line

# What msgspec and RFC 8785 may write differently: numbers with a zero fraction or an
# exponent, minus zero, below 1e-6, beyond 2^53; keys whose order differs between UTF-16 and
# code points (only beyond the basic plane); escapes other than the short ones. A number
# follows the quote and colon of its key, or a comma or bracket in a list. Plain searches are
# the fastest; patterns that begin with one certain character come next.
_DOUBTFUL_TEXTS = (b"\\u", b".0,", b".0}", b".0]", b":-0", b",-0", b"[-0", b"0.000000")
_DOUBTFUL_NUMBERS = [
    re.compile(before + rb"-?(?:[0-9.]+[eE]|[0-9]{16})") for before in (b'":', rb"\[", b",")
]
_BEYOND_BASIC_PLANE = re.compile(rb"[\xf0-\xf4]")


def _whole_if_it_can(number: str) -> float | int:
    """A number without a fraction is written without one (RFC 8785 3.2.2.3)."""
    value = float(number)
    return int(value) if value.is_integer() else value


_decode = msgspec.json.Decoder().decode
_decode_whole = msgspec.json.Decoder(float_hook=_whole_if_it_can).decode
_encode = msgspec.json.Encoder(order="sorted").encode


def read_line(line: bytes, where: str) -> Event:
    """The event in one line, its newline included. Raises RecordError."""
    return _read_plain(line) or from_line(line, where)


def content(line: bytes) -> bytes:
    """The canonical bytes of the event in a line that :func:`read_line` accepted."""
    return line[len(LINE_START) : -TAIL_LENGTH]


def plainly_canonical(value: Any) -> bytes | None:
    """The canonical JSON of a value, unless something in it is written in two ways."""
    data = _encode(_decode_whole(_encode(value)))
    return None if _doubtful(data) else data


def certainly_canonical(data: bytes) -> dict[str, Any] | None:
    """The object in ``data`` when its JSON is canonical beyond doubt; None says nothing."""
    if not data.startswith(b"{") or _doubtful(data):
        return None
    try:
        found = _decode(data)
        return found if _encode(found) == data else None
    except (msgspec.MsgspecError, UnicodeError, RecursionError):
        return None


def _doubtful(data: bytes) -> bool:
    return (
        any(text in data for text in _DOUBTFUL_TEXTS)
        or any(number.search(data) for number in _DOUBTFUL_NUMBERS)
        or (not data.isascii() and _BEYOND_BASIC_PLANE.search(data) is not None)
    )


def _read_plain(line: bytes) -> Event | None:
    """The event when the line is canonical beyond doubt and everything in it is sound."""
    tail = line[-TAIL_LENGTH:]
    if not (line.startswith(LINE_START) and tail.startswith(LINE_MIDDLE) and tail.endswith(LINE_END)):
        return None
    fields = certainly_canonical(content(line))
    if fields is None or "hash" in fields:
        return None
    try:
        fields["hash"] = tail[len(LINE_MIDDLE) : -len(LINE_END)].decode("ascii")
        event = msgspec.convert(fields, Event)
        times.parse(event.wall)
    except ValueError:
        return None
    return event
