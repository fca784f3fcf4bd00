"""Where the scale card lies in a picture.

The card is the same print in every honest photo, so that it tells nothing about whether
two photos are one: it would speak for every pair that shows one at the same size.
"""

import cv2
import numpy as np

from evidence_app.photo.card.find import glance
from evidence_app.photo.card.layout import card_layout

_MARGIN_MM = 1.5  # rim and shadow of the card
_LEAST_MARKERS = 2  # one marker alone does not say where the far end of the card is


def without_card(grey: np.ndarray) -> np.ndarray:
    """(H, W) float32 for a picture ``grey`` (H, W) uint8: 0 on every scale card, 1 elsewhere.

    A mirrored picture is looked at both ways, since a marker is not read in a mirror."""
    seen = _card(grey)
    if seen is None:
        mirrored = _card(np.ascontiguousarray(grey[:, ::-1]))
        seen = None if mirrored is None else (grey.shape[1] - 1, 0) + mirrored * (-1, 1)
    elsewhere = np.ones(grey.shape, np.float32)
    if seen is not None:
        cv2.fillConvexPoly(elsewhere, cv2.convexHull(np.round(seen).astype(np.int32)), 0.0)
    return elsewhere


def _card(grey: np.ndarray) -> np.ndarray | None:
    """Corners (4, 2) of the card with its margin, in pixels; None where it is not seen."""
    layout = card_layout()
    found = glance(grey)
    printed: list[tuple[float, float]] = []
    pictured: list[list[float]] = []
    for marker in layout.markers.at:
        for quad in found.get(marker.id, [])[:1]:
            printed += layout.corners(marker)
            pictured += quad.tolist()
    if len(pictured) < 4 * _LEAST_MARKERS:
        return None
    homography, _ = cv2.findHomography(np.array(printed), np.array(pictured))
    if homography is None:
        return None
    half = np.array([layout.outline.width, layout.outline.height]) / 2 + _MARGIN_MM
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    return cv2.perspectiveTransform(corners[None], homography)[0]
