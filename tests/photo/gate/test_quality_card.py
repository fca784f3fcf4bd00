"""The quality gate where the scale card is wanted: in view, and sharp at its markers."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.gate import judge as quality
from evidence_app.practice.scenes.named import scene_of
from tests.photo.truths import jpeg_of

SEAM = "seam?seed=21"
PIXELS_PER_MM = 16


def judged(picture: np.ndarray) -> dict:
    data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 95])[1].tobytes()
    return {check.name: check for check in quality.judge(data, wanted_scale_card=True).checks}


def card_alone(sigma: float) -> np.ndarray:
    """The card's markers on white, 16 pixels to the mm, blurred by a Gaussian of ``sigma``
    pixels: drawn by OpenCV alone."""
    markers = card_layout().markers
    known = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, markers.dictionary))
    side = round(markers.side * PIXELS_PER_MM)
    canvas = np.full((1000, 1700), 215, np.uint8)
    for place in markers.at:
        x = round(850 + place.x * PIXELS_PER_MM) - side // 2
        y = round(500 + place.y * PIXELS_PER_MM) - side // 2
        marker = cv2.aruco.generateImageMarker(known, place.id, side)
        canvas[y : y + side, x : x + side] = np.where(marker == 0, 40, 215)
    return cv2.GaussianBlur(canvas, (0, 0), sigma)


@pytest.mark.parametrize("scene", [SEAM, "mesh?seed=22", "slot?seed=23"])
def test_careful_photo_with_the_card_passes(scene):
    judgement = quality.judge(jpeg_of(scene_of(scene)), wanted_scale_card=True)
    assert judgement.passes, [c for c in judgement.checks if not c.holds]


def test_photo_without_the_card_fails_the_card_alone():
    checks = judged(scene_of("bed?seed=55&take=62&megapixels=12").picture)
    assert [name for name, check in checks.items() if not check.holds] == ["card"]


def test_card_that_is_cut_off_is_said_with_how_much_is_seen():
    picture = scene_of(SEAM).picture
    checks = judged(picture[:, : picture.shape[1] // 2])
    assert not checks["card"].holds
    assert str(checks["card"].sentence).startswith("Only 2 of the scale card's 4 markers can be read")


def test_sharp_background_does_not_make_up_for_a_soft_card():
    soft = cv2.cvtColor(card_alone(6.0), cv2.COLOR_GRAY2BGR)
    picture = scene_of("front?seed=26&megapixels=12").picture
    picture[:1000, :1700] = soft
    without = quality.judge(cv2.imencode(".jpg", picture)[1].tobytes())
    assert {check.name: check.holds for check in without.checks}["focus"]
    assert not judged(picture)["focus"].holds


@pytest.mark.parametrize("sigma", [1.0, 1.5, 2.5])
def test_rise_is_that_of_a_gaussian_edge_in_mm(sigma):
    """10 to 90 percent of a normal distribution lie 2.563 standard deviations apart (tables
    of the normal distribution)."""
    focus = judged(card_alone(sigma))["focus"]
    assert focus.unit == "mm edge rise on the scale card"
    assert focus.value == pytest.approx(2.563 * sigma / PIXELS_PER_MM, rel=0.12)


def test_limit_in_mm_follows_the_distance():
    near, far = card_alone(1.0), cv2.resize(card_alone(1.0), None, fx=0.75, fy=0.75)
    assert judged(far)["focus"].limit == pytest.approx(judged(near)["focus"].limit / 0.75, rel=0.02)


def test_who_goes_nearer_need_not_be_sharper_on_the_part():
    """104 mm fill a usual picture of 4000 pixels, 3.05 of them are the limit there."""
    margin = round((106.25 - 94) / 2 * PIXELS_PER_MM)
    near = cv2.resize(card_alone(1.0)[:, margin:-margin], (4000, 2660), interpolation=cv2.INTER_LINEAR)
    assert judged(near)["focus"].limit == pytest.approx(3.05 * 104 / 4000, abs=1e-3)
