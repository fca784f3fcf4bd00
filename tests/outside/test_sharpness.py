"""Edge spread of slanted edges that were blurred by a known amount.

Source: the slanted-edge idea of ISO 12233 (an edge leaning a few degrees samples its own spread
at every phase); the blur is a Gaussian of known standard deviation, a disc, or a streak, whose
variances are s^2, d^2/16 along each axis, and L^2/12 along itself.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from evidence_app.photo.gate.sharpness import EdgeSpread, best_tiles, edge_spread
from evidence_app.practice.optics import streak


def slanted_squares(sigma: float, kernel: np.ndarray | None = None) -> EdgeSpread:
    """A chart of squares leaning by 5 degrees, drawn four times as large."""
    chart = np.full((4096, 4096), 60, np.float32)
    for y in range(200, 3800, 700):
        for x in range(200, 3800, 700):
            box = cv2.boxPoints(((x + 200, y + 200), (400, 400), 5)).astype(np.int32)
            cv2.fillPoly(chart, [box], 190)
    small = cv2.resize(chart, (1024, 1024), interpolation=cv2.INTER_AREA)
    if sigma:
        small = cv2.GaussianBlur(small, (0, 0), sigma)
    if kernel is not None:
        small = cv2.filter2D(small, -1, kernel)
    noise = np.random.default_rng(3).normal(0, 1.0, small.shape)
    picture = np.clip(small + noise + 0.5, 0, 255).astype(np.uint8)
    search = cv2.resize(picture, (128, 128), interpolation=cv2.INTER_AREA)
    found = edge_spread(picture, best_tiles(search), reblurs=(1.0, 2.0, 3.0))
    assert found is not None
    return found


# A pixel is a box: it adds the variance 1/12.
@pytest.mark.parametrize("sigma", [0.8, 1.0, 1.4, 2.0])
def test_gaussian_is_measured(sigma):
    found = slanted_squares(sigma)
    assert found.softest == pytest.approx(np.hypot(sigma, 12**-0.5), rel=0.12)
    assert found.sharpest == pytest.approx(found.softest, rel=0.06)


@pytest.mark.parametrize("angle", [5, 95])
def test_shake_is_measured_as_long_as_it_was(angle):
    assert slanted_squares(0.8, streak(4, angle)).smear == pytest.approx(4, rel=0.15)


def test_softer_is_never_called_sharper():
    spreads = [slanted_squares(sigma).softest for sigma in (0.6, 0.8, 1.0, 1.3, 1.7, 2.2)]
    assert spreads == sorted(spreads)


def test_nothing_to_see_gives_no_answer():
    blank = np.full((512, 512), 128, np.uint8)
    assert edge_spread(blank, best_tiles(blank[::8, ::8].copy()), (1.0, 2.0, 3.0)) is None
