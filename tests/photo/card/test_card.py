"""Finding the scale card and reading its pose and light."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from evidence_app.photo.card.find import find_markers
from evidence_app.photo.card.light import read_light
from evidence_app.photo.card.pose import fit_pose
from evidence_app.photo.refusal import CannotMeasure
from tests.photo.truths import truth_of

PHOTO = "seam?megapixels=1.5&gap_mm=0.25&seed=901&tilt_x_deg=6&tilt_y_deg=4&radial=0.03"


def reason_of(picture: np.ndarray) -> str:
    with pytest.raises(CannotMeasure) as refusal:
        find_markers(picture)
    assert refusal.value.sentence().count(".") >= 2, "what happened, and what to do"
    return refusal.value.reason


def test_corners_are_found_near_their_places(luma, scene):
    truth = scene(PHOTO).view.project(np.array([[-43.0, -14.0], [43.0, 14.0]]))
    found = find_markers(luma(PHOTO))
    assert np.abs(found[0, 0] - truth[0]).max() < 3
    assert np.abs(found[2, 2] - truth[1]).max() < 3


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_a_turned_photo_is_no_hindrance(luma, turns):
    assert find_markers(np.ascontiguousarray(np.rot90(luma(PHOTO), turns))).shape == (4, 4, 2)


@pytest.mark.parametrize(
    ("written", "reason"),
    [
        ("seam?megapixels=1.5&seed=902&card=0", "no card"),
        ("seam?megapixels=1.5&seed=902&shift_x_mm=16", "card cut off"),
        ("seam?megapixels=1.5&seed=902&mirrored=1", "mirrored"),
        ("seam?megapixels=1.5&seed=902&dictionary=DICT_5X5_50", "other card"),
    ],
)
def test_what_is_no_usable_card_is_named(luma, written, reason):
    assert reason_of(luma(written)) == reason


def test_two_cards_are_named(luma):
    photo = luma(PHOTO)
    assert reason_of(np.vstack([photo, photo])) == "two cards"


def test_a_black_frame_is_named():
    assert reason_of(np.zeros((1500, 2000), np.uint8)) == "black"


def test_a_white_frame_has_no_card():
    assert reason_of(np.full((1500, 2000), 255, np.uint8)) == "no card"


def test_pose_is_true_to_a_tenth_of_a_pixel_beside_the_card(luma, scene):
    photo = luma(PHOTO)
    pose = fit_pose(photo, find_markers(photo))
    places = np.array([[-40.0, 22.0], [0.0, 22.0], [40.0, 22.0], [0.0, 0.0]])
    seen = np.column_stack(pose.to_pixels(places[:, 0], places[:, 1]))
    assert np.abs(seen - scene(PHOTO).view.project(places)).max() < 0.1


def test_lean_of_the_line_of_sight_is_true_to_a_degree(luma, scene):
    photo = luma(PHOTO)
    truth = truth_of(scene(PHOTO))
    pose = fit_pose(photo, find_markers(photo))
    ray = np.array([0.0, 22.0, 0.0]) - truth.view.position
    true = np.degrees(np.arctan2(ray[1], ray[2]))
    assert pose.lean_deg(0.0, 22.0)[1] == pytest.approx(true, abs=1.0)


def test_a_bent_card_is_refused(luma):
    photo = luma(PHOTO)
    rows, columns = np.indices(photo.shape, np.float32)
    bent = cv2.remap(photo, columns, rows + 5 * np.sin(columns / 60), cv2.INTER_LINEAR)
    with pytest.raises(CannotMeasure) as refusal:
        fit_pose(bent, find_markers(bent))
    assert refusal.value.reason == "bent card"


@pytest.mark.parametrize("contrast", [0.05, 0.3])
def test_tone_curve_is_read_from_the_patches(luma, contrast):
    photo = luma(f"seam?megapixels=1.5&gap_mm=0.25&seed=903&contrast={contrast}")
    light = read_light(photo, fit_pose(photo, find_markers(photo)))
    assert light.tone.contrast == pytest.approx(contrast, abs=0.08)


@pytest.mark.parametrize("sharpen", [0.0, 0.6])
def test_blur_of_the_lens_is_read_through_the_sharpening(luma, sharpen):
    photo = luma(f"seam?megapixels=1.5&gap_mm=0.25&seed=904&blur_px=0.9&sharpen={sharpen}")
    edge = read_light(photo, fit_pose(photo, find_markers(photo))).edge
    pixel_box = 1 / 12  # variance of a square pixel
    assert edge.blur == pytest.approx(np.sqrt(0.9**2 + pixel_box), rel=0.08)


@pytest.mark.parametrize(("exposure", "reason"), [(2.0, "too bright"), (-6.0, "too dark")])
def test_a_card_without_usable_light_is_refused(luma, exposure, reason):
    photo = luma(f"seam?megapixels=1.5&seed=905&exposure={exposure}")
    corners = find_markers(luma("seam?megapixels=1.5&seed=905"))
    with pytest.raises(CannotMeasure) as refusal:
        read_light(photo, fit_pose(luma("seam?megapixels=1.5&seed=905"), corners))
    assert refusal.value.reason == reason
