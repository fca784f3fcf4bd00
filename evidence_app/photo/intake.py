"""Whether bytes are a photo the app can take, and their pixels.

Rules, in the order they are tried, all before a single pixel is decoded:

1. the bytes begin as a JPEG does; anything else is named and refused;
2. the frame is baseline, extended or progressive Huffman coding, 8 bits a
   sample, grey or YCbCr/RGB (ITU-T T.81 tables B.1 and B.2);
3. no side is 30,000 pixels or longer and the picture is at most limits.PHOTO_PIXELS, so
   that a small file cannot ask for gigabytes of memory;
4. the coded picture runs to its end marker; what follows that marker (padding,
   a second picture, a clip that some cameras append) is left alone.

Nothing here changes the bytes: what is stored is what came in.
"""

import io
import re
import struct
from typing import NamedTuple

import cv2
import numpy as np
from msgspec import Struct
from PIL import Image

from evidence_app import limits
from evidence_app.errors import PhotoError
from evidence_app.photo.jpeg import END, FRAMES, SCAN, NoSegment, segments
from evidence_app.sentence import sentence, sentences_beside

SCALES = (1, 2, 4, 8)

_WORDS = sentences_beside(__file__)

# First bytes of what people hand in by mistake, to be able to name it.
_OTHER_FORMATS = (
    (re.compile(rb"\x89PNG\r\n\x1a\n"), sentence("a PNG picture")),
    (re.compile(rb"II\*\x00|MM\x00\*|II\+\x00|MM\x00\+"), sentence("a TIFF or camera raw picture")),
    (re.compile(rb"GIF8[79]a"), sentence("a GIF picture")),
    (re.compile(rb"RIFF....WEBP", re.DOTALL), sentence("a WebP picture")),
    (re.compile(rb"....ftyp(heic|heix|hevc|mif1|msf1)", re.DOTALL), sentence("an HEIF picture")),
    (re.compile(rb"....ftypavif", re.DOTALL), sentence("an AVIF picture")),
    (re.compile(rb"....ftyp", re.DOTALL), sentence("a video")),
    (re.compile(rb"BM"), sentence("a BMP picture")),
    (re.compile(rb"\x00\x00\x00\x0cjP  |\xff\x4f\xff\x51"), sentence("a JPEG 2000 picture")),
    (re.compile(rb"\x00\x00\x00\x0cJXL |\xff\x0a"), sentence("a JPEG XL picture")),
    (re.compile(rb"%PDF"), sentence("a PDF document")),
    (re.compile(rb"PK\x03\x04"), sentence("a ZIP archive")),
)

_READABLE_FRAMES = {0xC0, 0xC1, 0xC2}

# Exif orientations of pixels that must be mirrored to be shown (CIPA DC-008, tag 0x0112).
_MIRRORING = (2, 4, 5, 7)


class PhotoHeader(Struct, frozen=True):
    """What a photo says of itself. ``width`` and ``height`` are pixels as the
    picture is shown, ``orientation`` is the Exif value 1 to 8 that was applied,
    ``taken`` the camera's own time as RFC 3339 text (without an offset when the
    camera gave none), or None."""

    width: int
    height: int
    orientation: int = 1
    taken: str | None = None

    @property
    def mirrored(self) -> bool:
        """Are the stored pixels the mirror image of the scene?"""
        return self.orientation in _MIRRORING


class _Frame(NamedTuple):
    marker: int
    precision: int
    height: int
    width: int
    components: int


def read_header(data: bytes, where: str = "") -> PhotoHeader:
    """The header of a photo that the app can take.

    ``where`` names the file or camera in the error. Raises PhotoError for
    everything that rules 1 to 4 refuse.
    """
    where = where or "photo"
    _require_jpeg(data, where)
    frame, scan_start = _read_frame(data, where)
    _require_readable(frame, where)
    _require_size(frame, where)
    if data.rfind(b"\xff\xd9", scan_start) < 0:
        raise _refused("resend", "cut-off", where)
    orientation, taken = _read_exif(data)
    width, height = frame.width, frame.height
    if orientation >= 5:
        width, height = height, width
    return PhotoHeader(width=width, height=height, orientation=orientation, taken=taken)


def decode(data: bytes, scale: int = 1, where: str = "") -> np.ndarray:
    """Pixels of a photo, (H, W, 3) uint8 BGR, upright, at 1/scale of its size.

    ``scale`` is 1, 2, 4 or 8; the reduction happens inside the JPEG decoder and
    rounds sizes up. A grey photo gives three equal channels. Raises PhotoError
    as read_header does, and when the coded picture cannot be decoded.
    """
    return _decode(data, scale, where, grey=False)


def decode_luma(data: bytes, scale: int = 1, where: str = "") -> np.ndarray:
    """The brightness channel alone, (H, W) uint8, as the sensor stored it (Exif
    orientation not applied), at 1/scale of its size as for decode.

    A JPEG keeps brightness apart from colour: this at half the size costs no more
    than colour at a quarter. Raises PhotoError like decode.
    """
    return _decode(data, scale, where, grey=True)


_FLAGS = {
    1: (cv2.IMREAD_COLOR, cv2.IMREAD_GRAYSCALE),
    2: (cv2.IMREAD_REDUCED_COLOR_2, cv2.IMREAD_REDUCED_GRAYSCALE_2),
    4: (cv2.IMREAD_REDUCED_COLOR_4, cv2.IMREAD_REDUCED_GRAYSCALE_4),
    8: (cv2.IMREAD_REDUCED_COLOR_8, cv2.IMREAD_REDUCED_GRAYSCALE_8),
}


def _decode(data: bytes, scale: int, where: str, grey: bool) -> np.ndarray:
    if scale not in SCALES:
        raise ValueError(f"scale must be one of {SCALES}, not {scale}")
    read_header(data, where)
    flag = _FLAGS[scale][grey] | (cv2.IMREAD_IGNORE_ORIENTATION if grey else 0)
    try:
        pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flag)
    except cv2.error:
        pixels = None
    if pixels is None:
        raise _refused("resend", "undecodable", where or "photo")
    return pixels


def _require_jpeg(data: bytes, where: str) -> None:
    if not data:
        raise _refused("resend", "empty", where)
    if data[:3] == b"\xff\xd8\xff":
        return
    for signature, name in _OTHER_FORMATS:
        if signature.match(data):
            raise _refused("retake", "other", where, name=name)
    if data[:2] == b"\xff\xd8"[: len(data[:2])]:
        raise _refused("resend", "cut-off", where)
    raise _refused("retake", "unknown", where)


def _read_frame(data: bytes, where: str) -> tuple[_Frame, int]:
    """The frame header and where the first scan's coded data begin (T.81 B.1.1)."""
    frame = None
    try:
        for marker, start, end in segments(data):
            if marker in FRAMES and end - start >= 6:
                frame = _Frame(marker, *struct.unpack_from(">BHHB", data, start))
            elif marker in FRAMES or marker == END or (marker == SCAN and frame is None):
                break
            if marker == SCAN and frame is not None:
                return frame, end
    except NoSegment as broken:
        if broken.cut:
            raise _refused("resend", "cut-off", where) from None
    raise _refused("resend", "damaged", where)


def _require_readable(frame: _Frame, where: str) -> None:
    if frame.precision != 8:
        raise _refused("retake", "bits", where, precision=frame.precision)
    if frame.marker not in _READABLE_FRAMES:
        raise _refused("retake", "coding", where)
    if frame.components == 4:
        raise _refused("retake", "printing", where)
    if frame.components not in (1, 3):
        raise _refused("retake", "channels", where, components=frame.components)


def _require_size(frame: _Frame, where: str) -> None:
    width, height = frame.width, frame.height
    if not width or not height:
        raise _refused("resend", "sizeless", where)
    if max(width, height) > limits.PHOTO_SIDE or width * height > limits.PHOTO_PIXELS:
        millions = limits.PHOTO_PIXELS // 10**6
        raise _refused("smaller", "large", where, width=width, height=height, value=millions)


def _refused(way: str, reason: str, where: str, **values: object) -> PhotoError:
    """The error of that reason, all of the same way out having one remedy."""
    words = _WORDS[way]
    return PhotoError.worded({"what": words[reason], "remedy": words["remedy"]}, where, **values)


_EXIF_IFD = 0x8769
_ORIENTATION = 0x0112
_DATE_TIME_ORIGINAL, _OFFSET_TIME_ORIGINAL, _SUB_SEC_TIME_ORIGINAL = 0x9003, 0x9011, 0x9291


def _read_exif(data: bytes) -> tuple[int, str | None]:
    """Orientation and time taken; a damaged Exif block is as good as none."""
    try:
        with Image.open(io.BytesIO(data), formats=["JPEG"]) as picture:
            exif = picture.getexif()
            orientation = exif.get(_ORIENTATION, 1)
            details = exif.get_ifd(_EXIF_IFD)
    except Exception:  # hostile Exif raises struct, value, key and syntax errors alike
        return 1, None
    if orientation not in range(1, 9):
        orientation = 1
    return int(orientation), _time_taken(details)


def _time_taken(details: dict) -> str | None:
    taken = str(details.get(_DATE_TIME_ORIGINAL, ""))
    if not re.fullmatch(r"\d{4}:\d\d:\d\d \d\d:\d\d:\d\d", taken):
        return None
    text = taken[:10].replace(":", "-") + "T" + taken[11:]
    fraction = str(details.get(_SUB_SEC_TIME_ORIGINAL, "")).strip(" \0")
    if re.fullmatch(r"[0-9]{1,9}", fraction):
        text += "." + fraction
    offset = str(details.get(_OFFSET_TIME_ORIGINAL, "")).strip(" \0")
    if re.fullmatch(r"[+-]\d\d:\d\d", offset):
        text += offset
    return text
