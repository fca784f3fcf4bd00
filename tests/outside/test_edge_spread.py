"""Edge spread against synthetic edges of a known Gaussian.

Idea of ISO 12233 (slanted edge): the spread function of an edge is sampled finer than the
pixels by an edge that leans against their rows. The edges here are drawn from the exact
integral of a Gaussian by this test, without the practice renderer.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from evidence_app.photo.card.find import find_markers
from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.card.light import linear_to_srgb, read_light
from evidence_app.photo.card.pose import fit_pose
from evidence_app.practice.scenes.card import _bits

PER_MM = 20.0
LEAN = np.radians(3.0)


def drawn(sigma: float) -> np.ndarray:
    """The card's markers and patches under a Gaussian blur of ``sigma`` pixels, exactly:
    every module is a rectangle, whose blurred light is a product of two integrals."""
    layout = card_layout()
    height, width = 1000, 2000
    v, u = np.indices((height, width), dtype=float)
    u, v = u - width / 2, v - height / 2
    x = (u * np.cos(LEAN) + v * np.sin(LEAN)) / PER_MM
    y = (v * np.cos(LEAN) - u * np.sin(LEAN)) / PER_MM
    spread = sigma / PER_MM
    light = np.full((height, width), layout.print.paper)

    def ink(x0: float, y0: float, x1: float, y1: float, level: float) -> None:
        near = (x > x0 - 0.6) & (x < x1 + 0.6) & (y > y0 - 0.6) & (y < y1 + 0.6)
        px, py = x[near], y[near]
        share = (ndtr((px - x0) / spread) - ndtr((px - x1) / spread)) * (
            ndtr((py - y0) / spread) - ndtr((py - y1) / spread)
        )
        light[near] += share * (level - layout.print.paper)

    for patch in layout.patches:
        ink(
            patch.x - patch.width / 2,
            patch.y - patch.height / 2,
            patch.x + patch.width / 2,
            patch.y + patch.height / 2,
            patch.reflectance,
        )
    for marker in layout.markers.at:
        bits = _bits(layout.markers.dictionary, marker.id)[1:-1, 1:-1]
        side = layout.markers.side / len(bits)
        left, top = marker.x - layout.markers.side / 2, marker.y - layout.markers.side / 2
        for row, line in enumerate(bits):
            for column, black in enumerate(line):
                if black:
                    ink(
                        left + column * side,
                        top + row * side,
                        left + (column + 1) * side,
                        top + (row + 1) * side,
                        layout.print.black,
                    )
    return np.rint(255 * linear_to_srgb(light)).astype(np.uint8)


@pytest.mark.parametrize("sigma", [0.7, 1.0, 1.5])
def test_spread_of_a_known_gaussian(sigma):
    photo = drawn(sigma)
    edge = read_light(photo, fit_pose(photo, find_markers(photo))).edge
    assert edge.blur == pytest.approx(sigma, rel=0.05)
