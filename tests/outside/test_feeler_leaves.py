"""Seams as wide as the leaves of a feeler gauge are measured as such.

Nominal leaf thicknesses from 0.05 to 1.00 mm in steps of 0.05 mm: DIN 2275, second-hand.
The widths are rendered, so this shows that the numbers come out, not that a photo of real
leaves would.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from evidence_app.photo.gap.measure import measure_gap
from evidence_app.practice.scenes.named import scene_of
from tests.photo.truths import jpeg_of


@pytest.mark.parametrize("leaf", [0.05, 0.10, 0.20, 0.50, 1.00])
def test_a_seam_of_a_leaf_s_thickness(leaf):
    made = scene_of(f"seam?gap_mm={leaf}&wave_mm=0&seed={950 + round(20 * leaf)}")
    photo = cv2.imdecode(np.frombuffer(jpeg_of(made), np.uint8), cv2.IMREAD_GRAYSCALE)
    gap = measure_gap(photo)
    assert abs(gap.median_mm - leaf) <= max(0.015, gap.budget.expanded())
    assert gap.budget.expanded() <= 0.035
