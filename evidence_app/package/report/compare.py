"""Whether a report says what its journal says.

A report made again from the same journal is equal byte for byte when the same
picture library made its previews. Another version of that library may encode
the same preview differently; then words are compared as text and pictures by
their pixels, and nothing else is forgiven.
"""

import base64
import binascii
import io
import re
from itertools import islice, zip_longest

import numpy as np
from PIL import Image

from evidence_app.photo.preview import MOST
from evidence_app.sentence import Sentence, sentence

# Decoders and encoders of one standard differ by a few grey levels at edges. An 8 x 8 block is
# what a JPEG codes at a time; its mean differs by far less than this between encoders, and by
# far more when something is painted over (common practice, no source).
MAX_BLOCK_DIFFERENCE = 12.0
_BLOCK = 8

MAX_DIFFERENCES = 20
_SHOWN = 100

_EMPTY_PICTURE = b'src="data:image/jpeg;base64,"'
_PICTURE = re.compile(rb"data:image/jpeg;base64,([A-Za-z0-9+/=]*)")
# What the template writes behind an emptied picture.
_SIZE = re.compile(re.escape(_EMPTY_PICTURE) + rb' width="[0-9]+" height="[0-9]+"')
_MADE_BY = re.compile(rb'<meta name="generator" content="([^"\r\n]{0,200})">')


def made_by(report: bytes) -> str:
    """The layout and picture library that the report names; empty when it names none."""
    found = _MADE_BY.search(report)
    return found[1].decode("utf-8", "replace") if found else ""


def differences(given: bytes, expected: bytes) -> list[Sentence]:
    """Where ``given`` does not say or show what ``expected`` does, at most MAX_DIFFERENCES.

    Empty when they are equal, or when they differ in nothing but the encoding
    of previews and the picture library that they name.
    """
    if given == expected:
        return []
    found = _words(given, expected)
    pictures = zip_longest(_PICTURE.findall(given), _PICTURE.findall(expected))
    for number, (shown, made) in enumerate(pictures, start=1):
        if len(found) >= MAX_DIFFERENCES:
            break
        if shown is None or made is None:
            lacking = sentence("picture {number} is missing", number=number)
            found.append(lacking if shown is None else sentence("picture {number} is added", number=number))
        elif shown != made and not _look_alike(shown, made):
            found.append(sentence("picture {number} shows something else than its original", number=number))
    return found[:MAX_DIFFERENCES]


def without_pictures(report: bytes) -> bytes:
    """The page with its pictures emptied, without their sizes and the picture library's name.

    A picture ends at the quotation mark that ends its attribute, so that
    nothing outside of pictures is lost from the comparison.
    """
    text = _MADE_BY.sub(_layout_only, report, count=1)
    start, end = _EMPTY_PICTURE[:-1], _EMPTY_PICTURE[-1:]
    before, *rest = text.split(start)
    emptied = (part.partition(end)[2] for part in rest)
    return _SIZE.sub(_EMPTY_PICTURE, _EMPTY_PICTURE.join((before, *emptied)))


def _words(given: bytes, expected: bytes) -> list[Sentence]:
    lines = enumerate(zip_longest(_plain(given), _plain(expected)), start=1)
    differing = ((number, *pair) for number, pair in lines if pair[0] != pair[1])
    return [
        sentence(
            "line {number} reads {given} where the journal gives {expected}",
            number=number,
            given=_quoted(shown),
            expected=_quoted(made),
        )
        for number, shown, made in islice(differing, MAX_DIFFERENCES)
    ]


def _plain(report: bytes) -> list[bytes]:
    """The lines without the previews and without the name of the picture library."""
    text = _MADE_BY.sub(_layout_only, report, count=1)
    return _PICTURE.sub(b"data:image/jpeg;base64,", text).split(b"\n")


def _layout_only(found: re.Match[bytes]) -> bytes:
    return found[1].partition(b";")[0]


def _quoted(line: bytes | None) -> str | Sentence:
    if line is None:
        return sentence("nothing")
    text = line.decode("utf-8", "replace").strip()
    return f"“{text[:_SHOWN]}{'…' if len(text) > _SHOWN else ''}”"


def _look_alike(given: bytes, expected: bytes) -> bool:
    try:
        shown, made = _pixels(given), _pixels(expected)
    except (OSError, SyntaxError, ValueError, binascii.Error):
        return False
    if shown.shape != made.shape:
        return False
    return bool(np.abs(_blocks(shown) - _blocks(made)).max() <= MAX_BLOCK_DIFFERENCE)


def _pixels(encoded: bytes) -> np.ndarray:
    """(H, W, 3) float32; ValueError for a picture larger than any preview."""
    with Image.open(io.BytesIO(base64.b64decode(encoded)), formats=["JPEG"]) as picture:
        if max(picture.size) > MOST:
            raise ValueError("larger than a preview")
        return np.asarray(picture.convert("RGB"), np.float32)


def _blocks(pixels: np.ndarray) -> np.ndarray:
    """Means of the blocks, the rest at the right and lower edge included."""
    down = np.add.reduceat(pixels, np.arange(0, pixels.shape[0], _BLOCK), axis=0)
    both = np.add.reduceat(down, np.arange(0, pixels.shape[1], _BLOCK), axis=1)
    heights = np.diff([*range(0, pixels.shape[0], _BLOCK), pixels.shape[0]])
    widths = np.diff([*range(0, pixels.shape[1], _BLOCK), pixels.shape[1]])
    return both / (heights[:, None, None] * widths[None, :, None])
