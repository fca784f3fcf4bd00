"""A small picture of a photo or of a drawing, for looking at and nothing else.

The same bytes give the same preview with the same :func:`maker`. The size is
the one that the JPEG decoder reduces to by itself (ITU-T T.81 blocks, scaled
by 2, 4 or 8), because resampling costs more than half as much as decoding; so
the long side is FEWEST to MOST pixels, or less when the picture has no more.
That is 1000 for a photo of 12 megapixels: about 290 dots an inch where a page
of A4 shows it.
"""

import io
import struct

from msgspec import Struct
from PIL import Image, features

from evidence_app import limits
from evidence_app.errors import PhotoError
from evidence_app.photo.intake import read_header
from evidence_app.sentence import sentence

FEWEST = 960
MOST = 1280
QUALITY = 80


KINDS = {"photo": "JPEG", "markup": "PNG"}

# What makes a picture upright, by its Exif orientation (CIPA DC-008, tag 0x0112).
_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


class Preview(Struct, frozen=True):
    """A JPEG and its size in pixels."""

    jpeg: bytes
    width: int
    height: int


def maker() -> str:
    """What the bytes of a preview depend on beside the picture: the library that makes it."""
    return f"Pillow {features.version('pil')}, libjpeg-turbo {features.version('libjpeg_turbo')}"


def make_preview(data: bytes, kind: str) -> Preview:
    """The preview of a photo (JPEG) or a markup (PNG), upright.

    ``kind`` is one of KINDS. Raises PhotoError when there is no picture in
    ``data`` that can be decoded, or one of more than limits.PREVIEW_PIXELS.
    """
    try:
        width, height, turn = _header(data, kind)
        if width * height > limits.PREVIEW_PIXELS:
            raise PhotoError(sentence("the picture has more pixels than a preview is made from"))
        small = _reduced(data, kind)
    except PhotoError:
        raise
    except Exception as error:  # a hostile picture raises almost anything
        raise PhotoError(sentence("the file is not a picture that can be decoded")) from error
    if turn is not None:
        small = small.transpose(turn)
    file = io.BytesIO()
    small.save(file, "JPEG", quality=QUALITY, subsampling="4:2:0")
    return Preview(file.getvalue(), small.width, small.height)


def read_preview(jpeg: bytes) -> Preview:
    """A preview whose bytes were kept. Raises PhotoError when they are no JPEG."""
    header = read_header(jpeg, "preview")
    return Preview(jpeg, header.width, header.height)


def _header(data: bytes, kind: str) -> tuple[int, int, Image.Transpose | None]:
    """Width and height in pixels and the turn that makes the picture upright."""
    if kind == "photo":
        header = read_header(data)
        return header.width, header.height, _TURNS.get(header.orientation)
    if data[:8] != b"\x89PNG\r\n\x1a\n" or len(data) < 24:
        raise PhotoError(sentence("this is not a PNG picture"))
    return *struct.unpack(">II", data[16:24]), None


def _reduced(data: bytes, kind: str) -> Image.Image:
    with Image.open(io.BytesIO(data), formats=[KINDS[kind]]) as picture:
        width, height = (max(1, side * FEWEST // max(picture.size)) for side in picture.size)
        picture.draft("RGB", (width, height))
        picture.load()
        small = picture.convert("RGB")
    scale = MOST / max(small.size)
    if scale >= 1:
        return small
    width, height = (max(1, round(side * scale)) for side in small.size)
    # As sharp as a preview needs, at half the cost of the longest filter.
    return small.resize((width, height), Image.Resampling.HAMMING)
