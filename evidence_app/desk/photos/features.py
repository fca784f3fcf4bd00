"""What a photo is looked for by: its local features outside the scale card, 128 bits each.

Features (SIFT, Lowe 2004) survive saving anew, other sizes and tones, turning and cutting. They
are found in a small, blurred, evenly lit copy of the photo, so that a picture that lost its
finest structure has the same ones; each part of the picture gives its share, so that a cut
leaves some. A descriptor is kept as the signs of 128 random directions through it (Charikar
2002): two are as near as few of their bits differ.
"""

from collections.abc import Sequence
from functools import cache

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.desk.photos.card import without_card
from evidence_app.errors import PhotoError
from evidence_app.photo.intake import SCALES, decode, read_header
from evidence_app.sentence import sentence

BITS = 128
SIDE_PX = 640
MOST = 240
LEAST = 12
"""With fewer features a photo has too little in it to be known again."""

_BLUR_PX = 2.0
_CELLS = 8
_FOUND = 2500
_CARD_RIM_PX = 4
ROW = np.dtype(
    [("bits", np.uint8, BITS // 8), ("x", "<f2"), ("y", "<f2"), ("angle", "<f2"), ("size", "<f2")]
)
"""One feature: its bits; place in shares of the longer side; degrees; size in the same shares."""


class Features(Struct, frozen=True):
    """``rows`` (N,) of ROW, of the photo as it is; ``mirrored`` of its mirror image, for asking."""

    rows: np.ndarray
    mirrored: np.ndarray

    @property
    def usable(self) -> bool:
        return len(self.rows) >= LEAST


def features_in(picture: np.ndarray) -> Features:
    """Features of a picture (H, W, 3), uint8, BGR."""
    grey = sized(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), SIDE_PX)
    apart = cv2.erode(without_card(grey).astype(np.uint8), np.ones((2 * _CARD_RIM_PX + 1,) * 2))
    even = cv2.createCLAHE(4.0, (6, 6)).apply(cv2.GaussianBlur(grey, (0, 0), _BLUR_PX))
    return Features(*_rows(even, apart))


def small_picture(data: bytes, longer_px: int, where: str = "") -> np.ndarray:
    """A JPEG decoded as small as its longer side stays at or above ``longer_px``."""
    header = read_header(data, where)
    longer = max(header.width, header.height)
    if not longer:
        raise PhotoError(sentence("the picture has no pixels"), where=where)
    scale = next((s for s in reversed(SCALES) if longer // s >= longer_px), 1)
    return decode(data, scale, where)


def sized(picture: np.ndarray, longer_px: int) -> np.ndarray:
    """A picture (H, W) or (H, W, 3) made ``longer_px`` on its longer side."""
    scale = longer_px / max(picture.shape)
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    return cv2.resize(picture, None, fx=scale, fy=scale, interpolation=way)


def _rows(grey: np.ndarray, apart: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    finder = cv2.SIFT.create(_FOUND, contrastThreshold=0.005, edgeThreshold=12)
    spread = _spread(finder.detect(grey, apart), grey.shape)
    found, descriptors = finder.compute(grey, spread)
    rows = np.zeros(len(found), ROW)
    if not len(found):
        return rows, rows
    longer = max(grey.shape)
    rows["bits"] = _signs(descriptors)
    rows["x"], rows["y"] = np.array([f.pt for f in found], np.float32).T / longer
    rows["angle"] = [f.angle for f in found]
    rows["size"] = np.array([f.size for f in found], np.float32) / longer
    mirrored = rows.copy()
    # A descriptor is (4 rows, 4 columns, 8 directions) in the frame of its own main direction:
    # in a mirror the rows change places and the directions turn the other way round.
    seen = descriptors.reshape(-1, 4, 4, 8)[:, ::-1][..., -np.arange(8) % 8]
    mirrored["bits"] = _signs(seen.reshape(-1, 128))
    mirrored["x"] = (grey.shape[1] - 1) / longer - rows["x"]
    mirrored["angle"] = (180 - rows["angle"]) % 360
    return rows, mirrored


def _signs(descriptors: np.ndarray) -> np.ndarray:
    root = np.sqrt(descriptors / np.maximum(descriptors.sum(axis=1, keepdims=True), 1e-6))
    return np.packbits((root - root.mean(axis=1, keepdims=True)) @ _directions() > 0, axis=1)


def _spread(found: Sequence[cv2.KeyPoint], shape: tuple[int, ...]) -> list[cv2.KeyPoint]:
    """The strongest of each cell in turn, MOST altogether."""
    cells: dict[tuple[int, int], int] = {}
    ranked = []
    for feature in sorted(found, key=lambda f: -f.response):
        cell = int(feature.pt[0] * _CELLS / shape[1]), int(feature.pt[1] * _CELLS / shape[0])
        cells[cell] = cells.get(cell, 0) + 1
        ranked.append((cells[cell], -feature.response, feature))
    ranked.sort(key=lambda each: each[:2])
    return [feature for _, _, feature in ranked[:MOST]]


@cache
def _directions() -> np.ndarray:
    """(128, BITS) orthogonal, the same on every machine: features are kept for years."""
    square = np.random.Generator(np.random.PCG64(20260302)).standard_normal((128, BITS))
    return np.linalg.qr(square)[0].astype(np.float32)
