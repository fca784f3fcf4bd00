"""How one photo lies on others, by the places of their features alone.

A copy that was cut, turned, resized or mirrored lies on its source by a similarity, as two honest
photos of one flat thing hardly ever do: no hand holds the same tilt twice. One photographed again
from a screen or a print lies on it by a homography.
"""

import cv2
import numpy as np

from evidence_app.desk.photos.features import SIDE_PX

_MOST_BITS = 40  # bits in which a match may differ
_LEAST_MATCHES = 8
# Pixels at SIDE_PX, of a similarity and of a homography: how far an inlier may be off, and where
# one counts 1/e. What was printed and photographed again is less exact.
_INLIER_PX, _NEAR_PX = (1.5, 2.0), (0.7, 1.4)


def matched(one: np.ndarray, other: np.ndarray, most_bits: int) -> tuple[np.ndarray, np.ndarray]:
    """Places (N, 2), in shares of the longer side, of the features of two photos that are each
    other's nearest and differ in ``most_bits`` at most."""
    if not len(one) or not len(other):
        return np.empty((0, 2)), np.empty((0, 2))
    mine, theirs = (np.ascontiguousarray(rows["bits"]) for rows in (one, other))
    off = cv2.batchDistance(mine, theirs, cv2.CV_32S, normType=cv2.NORM_HAMMING, K=1, crosscheck=True)
    differ, nearest = (np.asarray(each).ravel() for each in off)  # -1 for none
    good = (nearest >= 0) & (differ <= most_bits)
    start, end = (
        np.column_stack([rows["x"], rows["y"]]).astype(np.float64)
        for rows in (one[good], other[nearest[good]])
    )
    return start, end


def lying_on(one: np.ndarray, other: np.ndarray) -> tuple[float, float]:
    """How many features of one photo lie on those of another (both (N,) of ROW): by the best
    similarity, and by the best homography. The nearer one lies, the more it counts."""
    start, end = (places * SIDE_PX for places in matched(one, other, _MOST_BITS))
    if len(start) < _LEAST_MATCHES:
        return 0.0, 0.0
    cv2.setRNGSeed(1)  # the same photos always give the same answer
    similar, _ = cv2.estimateAffinePartial2D(
        start, end, method=cv2.RANSAC, ransacReprojThreshold=_INLIER_PX[0], maxIters=300, refineIters=5
    )
    plane, _ = cv2.findHomography(start, end, cv2.USAC_FAST, _INLIER_PX[1], maxIters=500, confidence=0.99)
    whole = None if similar is None else np.vstack([similar, (0, 0, 1)])
    return _near(whole, start, end, _NEAR_PX[0]), _near(plane, start, end, _NEAR_PX[1])


def _near(placement: np.ndarray | None, start: np.ndarray, end: np.ndarray, px: float) -> float:
    if placement is None:
        return 0.0
    off = cv2.perspectiveTransform(start[None], placement)[0] - end
    return float(np.exp(-(off**2).sum(axis=1) / px**2).sum())
