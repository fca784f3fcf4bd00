"""The second, stricter comparison: are two photos one and the same picture?

The hash tells look-alikes; two honest photos of the same checkpoint look alike
too. But two photos are never taken from quite the same place with the same
light, dust and grain, so one cannot be laid over the other to the pixel. A copy
can, however it was cropped, turned, saved again, made smaller or brighter.

So: local features (SIFT, Lowe 2004) are matched, the turn, scale and shift that
most of them agree on are found (RANSAC, Fischler and Bolles 1981), one picture
is laid over the other, and the fine structure of both is compared block by
block by its correlation (which brightness and contrast do not change). The
scale card is left out: it is the same print in all photos.
"""

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.desk.photos.card import without_card
from evidence_app.desk.photos.hash import small_picture

# The longer side that both pictures are brought to. Fine enough to see grain of the
# scene, coarse enough that saving a copy at low quality does not wipe it out.
SIDE_PX = 800
_FEATURES = 1500
_RATIO = 0.8
_RANSAC_PX = 2.0
_LEAST_INLIERS = 16
_BLOCK_PX = 32
_LEAST_BLOCKS = 12
# Two demands at once: (contrast of a block from which it counts, correlation from which it
# agrees). Clear outlines must lie on each other exactly; honest photos fail there, for they were
# taken from another place. Faint grain must be the same as well; there photos fail that agree
# only in what is printed or milled alike on all units.
_OUTLINES = (2.0, 0.9)
_GRAIN = (0.8, 0.5)
_MOST_DRIFT_PX = 6.0
# The filters reach so far across the rim of the overlap, where there is nothing to compare.
_EDGE_PX = 25
# tests/bench/reuse.py measures it: copies reach 1.0 unless saved again at low quality, honest
# photos of one checkpoint in different jobs at most 0.75. To call two honest photos one is worse
# than to call a copy a look-alike, which is shown to the clerk as well.
SAME_AGREEMENT = 0.8


class Comparison(Struct, frozen=True):
    """``agreement`` is the part of the overlap's blocks whose fine structure agrees,
    0 to 1; ``overlap`` the part of the smaller picture that lies on the other;
    ``inliers`` the number of features that agree on ``placement`` (2, 3), which takes
    points of the first picture to the second, both at SIDE_PX."""

    same: bool
    agreement: float
    overlap: float
    inliers: int
    placement: tuple[tuple[float, ...], ...] | None


class Prepared(Struct, frozen=True):
    """A photo made ready once for several comparisons: grey (H, W) float32, where it tells
    something (H, W) float32, its features."""

    grey: np.ndarray
    telling: np.ndarray
    points: np.ndarray
    descriptors: np.ndarray | None


def prepare(data: bytes, where: str = "") -> Prepared:
    """Raises PhotoError when the bytes are no photo."""
    return prepare_picture(small_picture(data, SIDE_PX * 3 // 4, where))


def prepare_picture(picture: np.ndarray) -> Prepared:
    """``picture`` is (H, W, 3), uint8, BGR."""
    scale = SIDE_PX / max(picture.shape[:2])
    interpolation = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    grey = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
    grey = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=interpolation)
    finder = cv2.SIFT_create(_FEATURES, contrastThreshold=0.02)
    found, descriptors = finder.detectAndCompute(grey, None)
    points = np.float32([feature.pt for feature in found]).reshape(-1, 2)
    return Prepared(grey.astype(np.float32), without_card(grey), points, descriptors)


def compare(one: Prepared, other: Prepared, mirrored: bool = False) -> Comparison:
    """Lay ``one`` (mirrored first when the hash says so) over ``other`` and see how much agrees."""
    one = _mirrored(one) if mirrored else one
    placement, inliers = _placement(one, other)
    if placement is None:
        return Comparison(False, 0.0, 0.0, inliers, None)
    placement = _refined(one, other, placement)
    agreement, overlap = _agreement(one, other, placement)
    return Comparison(
        same=agreement >= SAME_AGREEMENT,
        agreement=round(agreement, 3),
        overlap=round(overlap, 3),
        inliers=inliers,
        placement=tuple(tuple(float(v) for v in row) for row in placement),
    )


def _mirrored(photo: Prepared) -> Prepared:
    # Descriptors do not survive mirroring, so the features are found anew.
    grey = np.ascontiguousarray(photo.grey[:, ::-1])
    return prepare_picture(cv2.cvtColor(grey.astype(np.uint8), cv2.COLOR_GRAY2BGR))


def _placement(one: Prepared, other: Prepared) -> tuple[np.ndarray | None, int]:
    if one.descriptors is None or other.descriptors is None or len(other.points) < 2:
        return None, 0
    pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(one.descriptors, other.descriptors, k=2)
    good = [
        pair[0] for pair in pairs if len(pair) == 2 and pair[0].distance < _RATIO * pair[1].distance
    ]
    if len(good) < _LEAST_INLIERS:
        return None, len(good)
    start = one.points[[match.queryIdx for match in good]]
    end = other.points[[match.trainIdx for match in good]]
    cv2.setRNGSeed(1)  # the same two photos always give the same answer
    placement, inside = cv2.estimateAffinePartial2D(
        start, end, method=cv2.RANSAC, ransacReprojThreshold=_RANSAC_PX, maxIters=4000, confidence=0.999
    )
    inliers = int(inside.sum()) if inside is not None else 0
    return (placement, inliers) if inliers >= _LEAST_INLIERS else (None, inliers)


def _refined(one: Prepared, other: Prepared, placement: np.ndarray) -> np.ndarray:
    """The placement to a fraction of a pixel, by maximising the correlation of both (Evangelidis
    and Psarakis 2008); as it was where that does not converge."""
    inverse = cv2.invertAffineTransform(placement).astype(np.float32)
    size = (other.grey.shape[1], other.grey.shape[0])
    mask = cv2.warpAffine(np.full(one.grey.shape, 255, np.uint8), placement, size)
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 30, 1e-4)
    try:
        _, inverse = cv2.findTransformECC(
            other.grey, one.grey, inverse, cv2.MOTION_AFFINE, criteria, mask, 5
        )
    except cv2.error:
        return placement
    refined = cv2.invertAffineTransform(inverse)
    height, width = one.grey.shape
    corners = np.array([[0, 0, 1], [width, 0, 1], [0, height, 1], [width, height, 1]], np.float64)
    moved = np.linalg.norm(corners @ (refined - placement).T, axis=1).max()
    return refined if moved <= _MOST_DRIFT_PX else placement


def _agreement(one: Prepared, other: Prepared, placement: np.ndarray) -> tuple[float, float]:
    size = (other.grey.shape[1], other.grey.shape[0])
    laid = cv2.warpAffine(one.grey, placement, size, flags=cv2.INTER_LINEAR)
    whole = cv2.warpAffine(np.ones_like(one.grey), placement, size, flags=cv2.INTER_NEAREST)
    area = abs(np.linalg.det(placement[:, :2])) * one.grey.size
    overlap = float(whole.sum() / max(1.0, min(area, other.grey.size)))
    inside = cv2.warpAffine(one.telling, placement, size, flags=cv2.INTER_NEAREST) * other.telling
    inside = cv2.erode(inside, np.ones((_EDGE_PX, _EDGE_PX)), borderValue=0)
    a, b = _fine(laid), _fine(other.grey)
    correlation, contrast, covered = _by_block(a, b, inside)
    shares = []
    for least_contrast, agrees in (_OUTLINES, _GRAIN):
        told = (covered > 0.95) & (contrast > least_contrast)
        shares.append(float((correlation[told] > agrees).mean()) if told.any() else 0.0)
    enough = ((covered > 0.95) & (contrast > _GRAIN[0])).sum() >= _LEAST_BLOCKS
    return (min(shares) if enough else 0.0), overlap


def _fine(grey: np.ndarray) -> np.ndarray:
    """Structure of about 2 to 12 px: outlines and shading, which all photos of a thing share, are
    taken away, and so is the finest grain, which saving again destroys."""
    return cv2.GaussianBlur(grey, (0, 0), 1.0) - cv2.GaussianBlur(grey, (0, 0), 4.0)


def _by_block(a: np.ndarray, b: np.ndarray, inside: np.ndarray):
    """Correlation, contrast (the weaker of the two, as standard deviation) and coverage."""
    height, width = (n // _BLOCK_PX * _BLOCK_PX for n in a.shape)

    def mean(values: np.ndarray) -> np.ndarray:
        blocks = values[:height, :width].reshape(
            height // _BLOCK_PX, _BLOCK_PX, width // _BLOCK_PX, _BLOCK_PX
        )
        return blocks.mean(axis=(1, 3))

    variance_a = np.maximum(mean(a * a) - mean(a) ** 2, 1e-9)
    variance_b = np.maximum(mean(b * b) - mean(b) ** 2, 1e-9)
    covariance = mean(a * b) - mean(a) * mean(b)
    correlation = covariance / np.sqrt(variance_a * variance_b)
    return correlation, np.sqrt(np.minimum(variance_a, variance_b)), mean(inside)
