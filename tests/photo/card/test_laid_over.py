"""One photo as seen from where another was taken, by the scale card in both."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from evidence_app.photo.card.seen import laid_over
from evidence_app.practice.scenes.named import scene_of


@pytest.fixture(scope="module")
def photo():
    return scene_of("slot?side=left&stage=before&seed=53&megapixels=1.33").picture


def test_a_photo_from_elsewhere_meets_the_first_in_the_cards_plane(photo):
    high, wide = photo.shape[:2]
    corners = np.float32([(0, 0), (wide, 0), (wide, high), (0, high)])
    moved = np.float32([(40, 25), (wide - 10, 5), (wide - 60, high - 40), (15, high - 20)])
    plane = cv2.getPerspectiveTransform(corners, moved)
    elsewhere = cv2.warpPerspective(photo, plane, (wide + 200, high))
    laid = laid_over(photo, elsewhere)
    assert laid.shape == photo.shape
    (right, down), _ = cv2.phaseCorrelate(
        *(cv2.cvtColor(p, cv2.COLOR_BGR2GRAY).astype(float) for p in (photo, laid))
    )
    assert np.hypot(right, down) < 1
    assert (
        np.abs(photo.astype(int) - laid).mean() < 6 < np.abs(photo.astype(int) - elsewhere[:, :wide]).mean()
    )


def test_nothing_is_laid_where_either_shows_no_whole_card(photo):
    without = photo.copy()
    without[: photo.shape[0] // 2, : photo.shape[1] // 2] = 90
    assert laid_over(photo, without) is None
    assert laid_over(without, photo) is None
