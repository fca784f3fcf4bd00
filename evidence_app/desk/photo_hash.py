"""The perceptual hash of a photo: PDQ, 256 bits.

PDQ is published with a reference implementation, which the ``pdqhash`` package
wraps; its discrete cosine transform gives the hashes of the picture turned and
mirrored for nothing, which other hash libraries do not offer. Its authors take
two pictures for the same at 31 differing bits or fewer, and discard a hash of
quality 49 or less, because a picture with so little in it resembles too much.
"""

from __future__ import annotations

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.errors import PhotoError
from evidence_app.photo.intake import decode, read_header

BITS = 256
SAME = 31
LEAST_QUALITY = 50
_ENOUGH_PX = 512

# The order in which the library gives them; each is checked against a turned picture in a test.
TURNS = (
    "as it is",
    "turned a quarter to the left",
    "upside down",
    "turned a quarter to the right",
    "mirrored top to bottom",
    "mirrored left to right",
    "mirrored along the falling diagonal",
    "mirrored along the rising diagonal",
)


class PhotoHash(Struct, frozen=True):
    """``bits`` are the 32 bytes of the photo as it is; ``turned`` those of the eight
    ways of turning and mirroring it, in the order of TURNS (8, 32) uint8.
    ``usable`` is False for a picture with too little in it."""

    bits: bytes
    turned: np.ndarray
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
    return PhotoHash(turned[0].tobytes(), turned, int(quality))


def small_picture(data: bytes, at_least_px: int, where: str = "") -> np.ndarray:
    """A JPEG decoded as small as its shorter side stays at or above ``at_least_px``."""
    header = read_header(data, where)
    shorter = min(header.width, header.height)
    if not shorter:
        raise PhotoError("the picture has no pixels", where=where)
    scale = next((s for s in (8, 4, 2) if shorter // s >= at_least_px), 1)
    return decode(data, scale, where)
