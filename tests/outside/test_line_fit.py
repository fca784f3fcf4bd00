"""The card's pose against scikit-image's own line and homography estimates.

Independent implementation: skimage.measure (RANSAC line on edge points found by
skimage.measure.find_contours) and skimage.transform.ProjectiveTransform. The two share
nothing but the picture. Source of the method: common practice, no source.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from skimage.measure import LineModelND, find_contours, ransac
from skimage.transform import ProjectiveTransform

from evidence_app.photo.card.find import find_markers
from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.card.pose import fit_pose
from evidence_app.practice.scenes.named import scene_of


@pytest.fixture(scope="module")
def photo() -> np.ndarray:
    made = scene_of("seam?gap_mm=0.3&seed=941&tilt_x_deg=5&tilt_y_deg=3&radial=0.0&sharpen=0")
    return cv2.cvtColor(made.picture, cv2.COLOR_BGR2GRAY)


def crossing(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Where two fitted lines (origin, direction) meet."""
    (p, d), (q, e) = first, second
    share = np.linalg.solve(np.column_stack([d, -e]), q - p)
    return p + share[0] * d


def outline_corners(photo: np.ndarray, rough: np.ndarray) -> np.ndarray:
    """Corners (4, 2) of a marker, from lines through its contour at half brightness."""
    low = np.floor(rough.min(axis=0)).astype(int) - 8
    high = np.ceil(rough.max(axis=0)).astype(int) + 9
    part = np.square(photo[low[1] : high[1], low[0] : high[0]] / 255.0)
    contours = find_contours(part, (part.min() + np.median(part[:3])) / 2)
    points = max(contours, key=len)[:, ::-1] + low
    lines = []
    for a, b in zip(rough, np.roll(rough, -1, axis=0), strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        place = (points - a) @ along / np.linalg.norm(b - a)
        off = np.abs((points - a) @ np.array([-along[1], along[0]]))
        near = points[(off < 4) & (place > 0.1) & (place < 0.9)]
        model, _ = ransac(near, LineModelND, 2, 0.3, max_trials=50, rng=1)
        lines.append((model.origin, model.direction))
    return np.array([crossing(lines[i - 1], lines[i]) for i in range(4)])


def test_pose_agrees_with_scikit_image_to_a_quarter_of_a_pixel(photo):
    rough = find_markers(photo)
    pose = fit_pose(photo, rough)
    seen = np.vstack([outline_corners(photo, quad) for quad in rough])
    flat = np.array([c for m in card_layout().markers.at for c in card_layout().corners(m)])
    other = ProjectiveTransform.from_estimate(flat, seen)
    places = np.array([[-38, -9], [38, -9], [0, 0], [0, 22], [-40, 22], [40, 22]], float)
    mine = np.column_stack(pose.to_pixels(places[:, 0], places[:, 1]))
    assert np.abs(mine - other(places)).max() < 0.25
