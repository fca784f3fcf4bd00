"""The card's check bar, read in the photo: what it tells of the print, and what follows."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from evidence_app.photo.card.bar import read_bar
from evidence_app.photo.card.find import find_markers
from evidence_app.photo.card.pose import fit_pose
from evidence_app.photo.gap.measure import measure_gap
from evidence_app.photo.measure import measure

PHOTO = "seam?gap_mm=0.8&seed=911&megapixels=1.5"
PAPER, INK = 190, 20


def printed(luma: np.ndarray, shift_mm: float | None) -> np.ndarray:
    """With the bar's right end tick that much farther right, or without it (None)."""
    pose, made = fit_pose(luma, find_markers(luma)), luma.copy()

    def fill(left: float, right: float, half: float, grey: int) -> None:
        x = np.array([left, right, right, left])
        y = 4.0 + np.array([-half, -half, half, half])
        corners = np.round(256 * np.column_stack(pose.to_pixels(x, y))).astype(np.int32)
        cv2.fillPoly(made, [corners], grey, cv2.LINE_AA, shift=8)

    fill(24.3, 26.2, 2.3, PAPER)
    if shift_mm is not None:
        fill(24.6 + shift_mm, 25.0 + shift_mm, 2.0, INK)
    return cv2.GaussianBlur(made, (0, 0), 0.6)


def reading(luma: np.ndarray) -> float:
    return read_bar(luma, fit_pose(luma, find_markers(luma)))


@pytest.mark.parametrize(
    "written", [PHOTO, "seam?megapixels=1.5&gap_mm=0.25&seed=901&tilt_y_deg=4&radial=0.03"]
)
def test_the_bar_of_an_even_print_has_its_length(luma, written):
    assert reading(luma(written)) == pytest.approx(50.0, abs=0.015)


def test_a_bar_that_is_longer_beside_its_markers_is_read_as_long(luma):
    assert reading(printed(luma(PHOTO), 0.4)) == pytest.approx(50.4, abs=0.03)


def test_a_bar_beyond_the_uncertainty_of_the_scale_is_told_and_allowed_for(luma, gap_wanted):
    shifted = printed(luma(PHOTO), 0.4)
    assert measure_gap(shifted).budget.combined > measure_gap(luma(PHOTO)).budget.combined
    result, _ = measure(
        cv2.imencode(".jpg", shifted, [cv2.IMWRITE_JPEG_QUALITY, 97])[1].tobytes(), gap_wanted()
    )
    assert any("check bar" in reason for reason in result["reasons"])
    assert result["check_bar_mm"] == pytest.approx(50.4, abs=0.03)


def test_a_bar_that_cannot_be_read_is_no_hindrance(luma, gap_wanted):
    covered = printed(luma(PHOTO), None)
    result, _ = measure(
        cv2.imencode(".jpg", covered, [cv2.IMWRITE_JPEG_QUALITY, 97])[1].tobytes(), gap_wanted()
    )
    assert result["value"] is not None and result["check_bar_mm"] is None
