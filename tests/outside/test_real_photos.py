"""The quality gate on real photographs, spoilt by known amounts.

Source: photographs that ship in scikit-image (skimage.data) and scikit-learn
(load_sample_images). A blur of 6 pixels is a disc or a straight streak of that length; an
exposure of n stops multiplies linear light by 2^n (IEC 61966-2-1 curve). The photographs are
small, so the size check is left out. Pictures of one fine texture (grass, gravel, brick, printed
pages) have no edges to judge by and are not among them; tests/bench/gate.py shows them too.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
import pytest
import skimage.data
from sklearn.datasets import load_sample_image

from evidence_app.photo.gate import judge as quality
from evidence_app.practice.optics import disc, srgb_encode, streak

PHOTOS = (
    "astronaut",
    "camera",
    "coffee",
    "chelsea",
    "rocket",
    "coins",
    "retina",
    "immunohistochemistry",
    "stereo_motorcycle",
    "flower",
)


@cache
def photo(name: str) -> np.ndarray:
    """(H, W, 3) uint8 BGR."""
    if name == "flower":
        picture = load_sample_image("flower.jpg")
    else:
        picture = getattr(skimage.data, name)()
        picture = picture[0] if isinstance(picture, tuple) else picture
    if picture.ndim == 2:
        picture = cv2.cvtColor(picture, cv2.COLOR_GRAY2RGB)
    return np.ascontiguousarray(picture[..., 2::-1])


def failing(picture: np.ndarray) -> set[str]:
    data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 95])[1].tobytes()
    return {check.name for check in quality.judge(data).checks if not check.holds} - {"size"}


def exposed(picture: np.ndarray, stops: float) -> np.ndarray:
    level = np.arange(256) / 255
    linear = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
    table = np.clip(255 * srgb_encode(np.clip(linear * 2.0**stops, 0, 1)) + 0.5, 0, 255)
    return table.astype(np.uint8)[picture]


@pytest.mark.parametrize("name", PHOTOS)
def test_photograph_as_it_is_passes(name):
    assert failing(photo(name)) == set()


@pytest.mark.parametrize("name", PHOTOS)
def test_defocus_of_6_pixels_is_refused(name):
    assert "focus" in failing(cv2.filter2D(photo(name), -1, disc(6)))


@pytest.mark.parametrize("angle", [0, 35, 90])
@pytest.mark.parametrize("name", PHOTOS)
def test_shake_of_6_pixels_is_refused(name, angle):
    # An edge that is soft in one direction is soft: either check may say so first.
    assert {"focus", "motion"} & failing(cv2.filter2D(photo(name), -1, streak(6, angle)))


@pytest.mark.parametrize("name", PHOTOS)
def test_darkening_by_5_stops_is_refused(name):
    assert "shadows" in failing(exposed(photo(name), -5))


@pytest.mark.parametrize("name", PHOTOS)
def test_over_exposure_by_4_stops_is_refused(name):
    assert "highlights" in failing(exposed(photo(name), 4))
