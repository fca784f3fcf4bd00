"""The sRGB curve against points of IEC 61966-2-1.

Source: IEC 61966-2-1:1999, equations of the transfer function; the expected values are
worked out by hand from them (8-bit 188 for half the light is the often quoted check,
common practice).
"""

from __future__ import annotations

import numpy as np
import pytest
from skimage.color import rgb2xyz

from evidence_app.photo.card.light import Tone, linear_to_srgb


@pytest.mark.parametrize(
    ("encoded", "linear"),
    [(0.0, 0.0), (0.04045, 0.0031308), (0.5, 0.2140411), (1.0, 1.0), (188 / 255, 0.5028865)],
)
def test_points_of_the_standard(encoded, linear):
    assert linear_to_srgb(np.array(linear)) == pytest.approx(encoded, abs=2e-5)


def test_all_grey_levels_agree_with_scikit_image():
    levels = np.arange(256) / 255
    other = rgb2xyz(np.repeat(levels[:, None, None], 3, axis=2))[:, 0, 1]
    assert np.abs(linear_to_srgb(other) - levels).max() < 2e-5
    assert np.abs(Tone(0.0, 0.0).linear_picture(levels) - other).max() < 3e-4
