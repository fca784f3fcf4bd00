"""A scale card that lies elsewhere in the photo than in its reference."""

import numpy as np
import pytest
from msgspec.structs import replace

from evidence_app.photo.residue.card_moved import in_reference
from evidence_app.photo.residue.find import find_residue
from evidence_app.photo.residue.regions import ground_of
from evidence_app.photo.residue.view import see
from tests.bench._photo_slots import slot_photos
from tests.photo.drawn import SCORING_SEEDS
from tests.photo.truths import jpeg_of


@pytest.fixture(scope="module")
def moved():
    """Reference, photo and second photo with the card up to 3 mm elsewhere; their spots."""
    scenes, _, spots = slot_photos("card moved", SCORING_SEEDS[29_000], True, 2600)
    return [jpeg_of(scene) for scene in scenes], spots


def test_the_place_is_found_again_and_most_spots_with_it(moved):
    (clean, one, two), spots = moved
    assert len(find_residue(one, clean, two).marks) >= len(spots) - 1


@pytest.mark.parametrize(("degrees", "x", "y"), [(3.0, 2.4, -1.6), (-4.0, 0.0, 4.0)])
def test_turn_and_shift_of_the_card_are_found(moved, degrees, x, y):
    reference = see(moved[0][0], "the photo")
    turn = np.radians(degrees)
    by = np.array([[np.cos(turn), -np.sin(turn), x], [np.sin(turn), np.cos(turn), y], [0.0, 0.0, 1.0]])
    elsewhere = replace(reference.pose, homography=reference.pose.homography @ np.linalg.inv(by))
    found = in_reference(reference, replace(reference, pose=elsewhere), ground_of(reference).frame)
    place = np.array([0.0, 24.0, 1.0])
    assert (found.to_card @ place)[:2] == pytest.approx((by @ place)[:2], abs=0.3)
