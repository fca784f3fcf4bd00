"""The live look: what it says of previews of practice photos."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from evidence_app.photo.gate.live import LiveLook, look
from tests.photo.truths import jpeg_of, truth_of

GOOD = "seam?gap_mm=0.12&seed=38"


@pytest.fixture
def seen(scene):
    """What is said of a named scene's preview of 1280 pixels."""

    def say(written: str) -> LiveLook:
        picture = cv2.imdecode(np.frombuffer(jpeg_of(scene(written)), np.uint8), cv2.IMREAD_COLOR)
        rows = round(1280 * picture.shape[0] / picture.shape[1])
        return look(cv2.resize(picture, (1280, rows), interpolation=cv2.INTER_AREA))

    return say


def test_a_good_view_holds_in_every_way(seen):
    looked = seen(GOOD)
    every = (looked.card, looked.tilt, looked.sharpness, looked.shadows, looked.highlights, looked.glare)
    assert [check.name for check in every if not check.holds] == []


def test_all_four_markers_and_the_tilt_are_seen(seen):
    found = seen(GOOD)
    assert found.markers == 4 and found.tilt_deg is not None


def test_without_a_card_neither_tilt_nor_aim_is_said(seen):
    found = seen("bed?seed=55&take=62")
    assert found.markers == 0 and found.tilt is None and found.aim is None and not found.card.holds


@pytest.mark.parametrize(("over", "shift"), [("the seam", 9), ("the middle of the card", -13)])
def test_a_camera_is_aimed_when_it_is_straight_above_what_is_measured(seen, scene, over, shift):
    """The seam lies 22 mm from the card's middle; the lens's focal length is guessed."""
    written = f"seam?seed=21&shift_y_mm={shift}&tilt_x_deg=0&tilt_y_deg=0"
    aim = seen(written).aim
    assert aim.holds == (over == "the seam")
    assert aim.lean_deg == pytest.approx(abs(truth_of(scene(written)).lean_across_deg), abs=2.0)
    assert aim.at == pytest.approx((0.5, 0.5), abs=0.06)  # looking straight down: the middle


@pytest.mark.parametrize(
    ("change", "check"),
    [
        ("defocus_px=16", "sharpness"),
        ("motion_px=16", "sharpness"),
        ("exposure=-5", "shadows"),
        ("exposure=1.5", "highlights"),
    ],
)
def test_a_spoilt_view_fails_the_check_that_names_why(seen, change, check):
    assert not getattr(seen(f"seam?seed=21&{change}"), check).holds


@pytest.mark.parametrize("shape", [(720, 1280, 3), (1, 1, 3), (2, 4000, 3)])
@pytest.mark.parametrize("level", [0, 255])
def test_an_empty_frame_of_any_size_is_looked_at_without_error(shape, level):
    found = look(np.full(shape, level, np.uint8))
    assert found.markers == 0 and not found.sharpness.holds
