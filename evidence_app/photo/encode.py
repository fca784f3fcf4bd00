"""A camera frame as a JPEG that carries its own time and identity.

Only frames that the app itself encodes pass here (a local camera, a stream, the
practice camera). A JPEG that comes from outside is never rewritten.

The Exif block follows CIPA DC-008 (Exif 2.32): APP1 stands directly after the
start marker, in the place of the encoder's JFIF block; times of section 4.6.5 F
with offset and sub-seconds; ImageUniqueID of section 4.6.5 H is 32 hexadecimal
digits.
"""

import re
import struct

import cv2
import numpy as np
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from evidence_app import __version__
from evidence_app.errors import PhotoError
from evidence_app.sentence import sentence

_WALL = re.compile(
    r"(?P<date>\d{4}-\d\d-\d\d)[Tt ](?P<time>\d\d:\d\d:\d\d)(\.(?P<fraction>\d{1,9}))?"
    r"(?P<offset>[Zz]|[+-]\d\d:\d\d)"
)
# Pillow writes ComponentsConfiguration as type 1 (BYTE); the standard wants 7 (UNDEFINED).
_CONFIGURATION_AS_BYTE = struct.pack(">HHL", 0x9101, 1, 4)
_CONFIGURATION_AS_UNDEFINED = struct.pack(">HHL", 0x9101, 7, 4)
_UNIQUE_ID = re.compile(r"[0-9a-fA-F]{32}")


def encode_jpeg(frame_bgr: np.ndarray, wall: str, unique_id: str, device: str, quality: int = 95) -> bytes:
    """``frame_bgr`` (H, W, 3) or (H, W) uint8 as JPEG bytes with Exif.

    ``wall`` is the RFC 3339 time of the exposure with its offset, ``unique_id``
    32 hexadecimal digits (a UUID's ``hex``), ``device`` the camera's name.
    Raises ValueError for a malformed time or id, PhotoError when the encoder
    refuses the frame.
    """
    exif = _exif_block(frame_bgr.shape, wall, unique_id, device)
    try:
        encoded, buffer = cv2.imencode(".jpg", frame_bgr, [cv2.IMWRITE_JPEG_QUALITY, quality])
    except cv2.error:
        encoded = False
    if not encoded:
        raise PhotoError(
            sentence("the camera's frame cannot be encoded as JPEG"),
            where=device,
            remedy=sentence("take the photo again; restart the camera if it repeats"),
        )
    jpeg = buffer.data
    return b"".join((jpeg[:2], exif, jpeg[_after_jfif(buffer) :]))


def _after_jfif(jpeg: np.ndarray) -> int:
    """Offset of what follows the start marker and the encoder's JFIF block."""
    head = jpeg[:6].tobytes()
    if head[2:4] != b"\xff\xe0":
        return 2
    return 4 + struct.unpack(">H", head[4:6])[0]


def _exif_block(shape: tuple[int, ...], wall: str, unique_id: str, device: str) -> bytes:
    match = _WALL.fullmatch(wall)
    if not match:
        raise ValueError(f"not an RFC 3339 time with offset: {wall!r}")
    if not _UNIQUE_ID.fullmatch(unique_id):
        raise ValueError(f"not 32 hexadecimal digits: {unique_id!r}")
    time = match["date"].replace("-", ":") + " " + match["time"]
    offset = "+00:00" if match["offset"] in "Zz" else match["offset"]
    fraction = match["fraction"]

    exif = Image.Exif()
    exif[0x010F] = "Evidence App"  # Make
    exif[0x0110] = _ascii(device)  # Model
    exif[0x0112] = 1  # Orientation: upright
    exif[0x011A] = exif[0x011B] = IFDRational(72, 1)  # XResolution, YResolution
    exif[0x0128] = 2  # ResolutionUnit: inch
    exif[0x0131] = f"evidence-app {__version__}"  # Software
    exif[0x0132] = time  # DateTime
    exif[0x0213] = 1  # YCbCrPositioning: centred, as the encoder does
    details = exif.get_ifd(0x8769)
    details[0x9000] = b"0232"  # ExifVersion
    details[0x9003] = details[0x9004] = time  # DateTimeOriginal, DateTimeDigitized
    details[0x9010] = details[0x9011] = details[0x9012] = offset  # OffsetTime...
    if fraction:
        details[0x9290] = details[0x9291] = details[0x9292] = fraction  # SubSecTime...
    details[0x9101] = b"\x01\x02\x03\x00"  # ComponentsConfiguration: Y Cb Cr
    details[0xA000] = b"0100"  # FlashpixVersion
    details[0xA001] = 1  # ColorSpace: sRGB
    details[0xA002] = shape[1]  # PixelXDimension
    details[0xA003] = shape[0]  # PixelYDimension
    details[0xA420] = unique_id.lower()  # ImageUniqueID
    block = exif.tobytes().replace(_CONFIGURATION_AS_BYTE, _CONFIGURATION_AS_UNDEFINED)
    return b"\xff\xe1" + struct.pack(">H", len(block) + 2) + block


def _ascii(text: str) -> str:
    """Exif text is ASCII; what is not becomes a question mark, and it stays short."""
    return text.encode("ascii", "replace").decode("ascii")[:120]
