"""The quality gate: what passes, what fails, and which check says so."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from PIL import Image

from evidence_app.errors import PhotoError
from evidence_app.photo.gate import judge as quality
from evidence_app.practice.scenes.named import scene_of
from tests.photo.truths import jpeg_of

NAMES = ["size", "focus", "motion", "shadows", "highlights", "glare"]


def failing(data: bytes) -> set[str]:
    return {check.name for check in quality.judge(data).checks if not check.holds}


def plain(level: int, width: int = 1600, height: int = 1200) -> bytes:
    picture = np.full((height, width, 3), level, np.uint8)
    return cv2.imencode(".jpg", picture)[1].tobytes()


@pytest.mark.parametrize(
    "scene",
    [
        "seam?seed=21",
        "mesh?seed=22",
        "slot?seed=23",
        "tray?seed=24",
        "spacers?seed=25",
        "front?seed=26",
        "bed?seed=55&take=62&megapixels=12",
    ],
)
def test_careful_photo_passes(scene):
    judgement = quality.judge(jpeg_of(scene_of(scene)))
    assert judgement.passes, [c for c in judgement.checks if not c.holds]
    assert [check.name for check in judgement.checks] == NAMES


@pytest.mark.parametrize(
    ("change", "check"),
    [
        ("defocus_px=8", "focus"),
        ("motion_px=8&motion_deg=20", "motion"),
        ("motion_px=8&motion_deg=90", "motion"),
        ("exposure=-5", "shadows"),
        ("exposure=1.5", "highlights"),
        ("glare=1", "glare"),
        ("megapixels=0.6", "size"),
    ],
)
def test_spoilt_photo_fails_the_check_that_names_why(change, check):
    assert check in failing(jpeg_of(scene_of(f"seam?seed=21&{change}")))


@pytest.mark.parametrize("scene", ["seam?seed=27", "slot?seed=28"])
def test_defocus_is_not_called_shake(scene):
    assert "motion" not in failing(jpeg_of(scene_of(f"{scene}&defocus_px=8")))


def test_verdict_is_the_same_however_the_camera_was_turned():
    picture = scene_of("mesh?seed=29").picture

    def turned(orientation: int) -> bytes:
        exif = Image.Exif()
        exif[0x0112] = orientation
        return cv2_with_exif(picture, exif)

    assert quality.judge(turned(1)) == quality.judge(turned(6))


def cv2_with_exif(picture: np.ndarray, exif: Image.Exif) -> bytes:
    data = cv2.imencode(".jpg", picture)[1].tobytes()
    block = exif.tobytes()
    return data[:2] + b"\xff\xe1" + (len(block) + 2).to_bytes(2, "big") + block + data[2:]


@pytest.mark.parametrize(("level", "check"), [(0, "shadows"), (255, "highlights"), (128, "focus")])
def test_picture_of_nothing_fails(level, check):
    assert check in failing(plain(level))


@pytest.mark.parametrize("size", [(1, 1), (7, 5), (40, 3000), (63, 65)])
def test_tiny_picture_is_judged_without_error(size):
    assert "size" in failing(plain(90, *size))


def test_every_failing_check_says_what_to_do():
    for check in quality.judge(plain(255, 200, 100)).checks:
        assert str(check.sentence).endswith(".")
        assert check.holds or "again" in str(check.sentence)


def test_no_photo_is_no_judgement():
    with pytest.raises(PhotoError, match="empty"):
        quality.judge(b"")
