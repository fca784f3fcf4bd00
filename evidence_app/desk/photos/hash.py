"""The perceptual hash of a photo: PDQ, 256 bits.

PDQ is published with a reference implementation, which the ``pdqhash`` package
wraps; its discrete cosine transform gives the hashes of the picture turned and
mirrored for nothing, which other hash libraries do not offer. Its authors take
two pictures for the same at 31 differing bits or fewer, and discard a hash of
quality 49 or less, because a picture with so little in it resembles too much.

The hash of the whole picture does not know a copy again that lost its rims or was
turned by a few degrees. So the middle of each photo is hashed too; what is asked for
are several parts of the photo in hand, one of which shows what the stored middle shows:
at any cut up to 1 - MIDDLE that is even on all sides, and at small ones of a side or corner.
"""

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.errors import PhotoError
from evidence_app.photo.intake import decode, read_header
from evidence_app.sentence import sentence

BITS = 256
SAME = 31
LEAST_QUALITY = 50
_ENOUGH_PX = 512

MIDDLE = 0.72  # share of width and height that the stored middle shows
# Shares of width or height: copies that lost 0.05 to 0.1 of one side, 0.05 to 0.08 at a corner.
_SIDE_CUT, _CORNER_CUT = 0.075, 0.06
_MIDDLE_PX = 400  # the shorter side at which middles are cut out

# The order in which the library gives them; each is checked against a turned picture in a test.
TURNS = (
    "not rotated",
    "turned a quarter to the left",
    "upside down",
    "turned a quarter to the right",
    "mirrored top to bottom",
    "mirrored left to right",
    "mirrored along the falling diagonal",
    "mirrored along the rising diagonal",
)


class Part(Struct, frozen=True):
    """A part of a picture: its middle and its size, each (x, y) in shares of width and height,
    turned by degrees about its middle."""

    middle: tuple[float, float] = (0.5, 0.5)
    size: tuple[float, float] = (1.0, 1.0)
    turn_deg: float = 0.0


def _stored_middle_after(cut: tuple[float, float, float, float]) -> Part:
    """What shows the stored middle where left, top, right and bottom lost a share each."""
    left, top, right, bottom = cut
    width, height = 1 - left - right, 1 - top - bottom
    return Part(((0.5 - left) / width, (0.5 - top) / height), (MIDDLE / width, MIDDLE / height))


_STORED = Part(size=(MIDDLE, MIDDLE))
# The first four, of 62 tried, found the most copies cut evenly by 3 to 30 percent or turned by 1
# to 3 degrees: one part is forgiven some 5 percent of scale and 2 degrees, and what was turned
# lost its corners, so it shows less. The others are for copies that lost a side or a corner.
_ASKED = (
    Part(),
    Part(size=(0.86, 0.86)),
    Part(size=(0.78, 0.78), turn_deg=-2.0),
    Part(size=(0.78, 0.78), turn_deg=2.0),
    _stored_middle_after((_SIDE_CUT, 0, 0, 0)),
    _stored_middle_after((0, _SIDE_CUT, 0, 0)),
    _stored_middle_after((0, 0, _SIDE_CUT, 0)),
    _stored_middle_after((0, 0, 0, _SIDE_CUT)),
    _stored_middle_after((_CORNER_CUT, _CORNER_CUT, 0, 0)),
    _stored_middle_after((0, _CORNER_CUT, _CORNER_CUT, 0)),
    _stored_middle_after((0, 0, _CORNER_CUT, _CORNER_CUT)),
    _stored_middle_after((_CORNER_CUT, 0, 0, _CORNER_CUT)),
)


class PhotoHash(Struct, frozen=True):
    """``bits`` are the 32 bytes of the photo as it is; ``turned`` those of the eight
    ways of turning and mirroring it, in the order of TURNS (8, 32) uint8.
    ``middle`` are the 32 bytes of its middle, None where that has too little in it;
    ``asked`` (12, 32) uint8 the parts to look for among the middles of other photos.
    ``usable`` is False for a picture with too little in it."""

    bits: bytes
    turned: np.ndarray
    middle: bytes | None
    asked: np.ndarray
    quality: int

    @property
    def usable(self) -> bool:
        return self.quality >= LEAST_QUALITY


def hash_photo(data: bytes, where: str = "") -> PhotoHash:
    """Hash a JPEG. Raises PhotoError when it is no photo that the app takes."""
    return hash_picture(small_picture(data, _ENOUGH_PX, where))


def hash_picture(picture: np.ndarray) -> PhotoHash:
    """Hash a picture (H, W, 3), uint8, BGR."""
    import pdqhash

    hashes, quality = pdqhash.compute_dihedral(cv2.cvtColor(picture, cv2.COLOR_BGR2RGB))
    turned = np.packbits(np.asarray(hashes, np.uint8), axis=1)
    scale = _MIDDLE_PX / min(picture.shape[:2])
    if scale < 1:
        picture = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    middle, enough = _part_hash(picture, _STORED)
    return PhotoHash(
        bits=turned[0].tobytes(),
        turned=turned,
        middle=middle.tobytes() if enough >= LEAST_QUALITY else None,
        asked=np.array([_part_hash(picture, part)[0] for part in _ASKED]),
        quality=int(quality),
    )


def _part_hash(picture: np.ndarray, part: Part) -> tuple[np.ndarray, int]:
    """Hash (32,) uint8 and quality of a part of a picture."""
    import pdqhash

    height, width = picture.shape[:2]
    whole = np.array([width - 1, height - 1])
    middle = whole * part.middle
    # From the picture to the part: turned about the part's middle, which comes to the middle,
    # and stretched to the picture's size.
    matrix = cv2.getRotationMatrix2D(tuple(middle), part.turn_deg, 1.0)
    matrix[:, 2] -= middle
    matrix /= np.array(part.size)[:, None]
    matrix[:, 2] += whole / 2
    cut = cv2.warpAffine(picture, matrix, (width, height), borderMode=cv2.BORDER_REPLICATE)
    bits, quality = pdqhash.compute(cv2.cvtColor(cut, cv2.COLOR_BGR2RGB))
    return np.packbits(np.asarray(bits, np.uint8)), int(quality)


def small_picture(data: bytes, at_least_px: int, where: str = "") -> np.ndarray:
    """A JPEG decoded as small as its shorter side stays at or above ``at_least_px``."""
    header = read_header(data, where)
    shorter = min(header.width, header.height)
    if not shorter:
        raise PhotoError(sentence("the picture has no pixels"), where=where)
    scale = next((s for s in (8, 4, 2) if shorter // s >= at_least_px), 1)
    return decode(data, scale, where)
