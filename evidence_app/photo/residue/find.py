"""Residue on a surface: what a photo shows that the clean reference photo did not.

A finding is advice. Nothing here says that a surface is clean: what is smaller than the
floor of detection, or hidden under a wall, is not seen.
"""

import numpy as np
from msgspec import Struct

from evidence_app.photo.refusal import CannotMeasure
from evidence_app.photo.residue.card_moved import in_reference
from evidence_app.photo.residue.compare import Change, compare
from evidence_app.photo.residue.marks import Mark, find_marks
from evidence_app.photo.residue.regions import Ground, ground_of, regions_of
from evidence_app.photo.residue.register import find_layers
from evidence_app.photo.residue.view import Sight, see

# Of the blocks with texture that must be found again: round a slot, and where the whole picture
# is compared, which shows the bench too. On practice scenes the same place shows at least 0.63
# and 0.74, another one at most 0.19 and 0.49, the same mat lying under both.
LEAST_SHARE, LEAST_SHARE_OF_ALL = 0.30, 0.62
LEAST_JUDGED_MM2 = 40.0
PERSISTS_MM = 0.6  # between the places of one mark in two photos


class Residue(Struct, frozen=True, eq=False):
    """``marks`` (largest first) on the reference's card plane, in mm; ``judged_mm2`` the area
    that both photos show well enough to be compared; ``least_brightness`` the change
    (logarithm) a mark must show; ``dropped`` how many marks the second photo did not show;
    ``bars`` what the card's check bar measures in photo, reference and second photo (mm, or NaN)."""

    marks: list[Mark]
    change: Change
    judged_mm2: float
    least_brightness: float
    dropped: int
    bars: tuple[float, float, float]

    @property
    def area_mm2(self) -> float:
        return float(sum(mark.area_mm2 for mark in self.marks))


def find_residue(photo: bytes, reference: bytes, second: bytes) -> Residue:
    """Compares a photo with the clean reference; of the marks only those are kept
    that a ``second`` photo of the same state, from another angle, shows as well.

    Raises PhotoError for what is no photo, CannotMeasure when it cannot be compared.
    """
    clean = see(reference, "the reference photo")
    now, aside = see(photo, "the photo"), see(second, "the second photo")
    if len({photo, reference, second}) < 3:
        raise CannotMeasure("residue", "same", where="the photos")
    ground = ground_of(clean)
    change = _changed(clean, ground, now, "the photo")
    again = _changed(clean, ground, aside, "the second photo")
    first, other = find_marks(change), find_marks(again)
    kept = [mark for mark in first.marks if any(_same(mark, each) for each in other.marks)]
    return Residue(
        kept,
        change,
        _area_mm2(change.judged & again.judged, ground),
        max(first.least_brightness, other.least_brightness),
        len(first.marks) - len(kept),
        (now.bar, clean.bar, aside.bar),
    )


def _changed(clean: Sight, ground: Ground, sight: Sight, which: str) -> Change:
    sight = in_reference(clean, sight, ground.frame)
    layers, share = find_layers(clean, sight, ground.frame)
    if not layers or share < (LEAST_SHARE if ground.slot else LEAST_SHARE_OF_ALL):
        raise CannotMeasure("residue", "scene", where=which)
    change = compare(clean, sight, regions_of(ground, clean, sight, layers), ground.frame)
    judged = _area_mm2(change.judged, ground)
    if judged < LEAST_JUDGED_MM2:
        raise CannotMeasure("residue", "little", where=which, judged=judged)
    return change


def _area_mm2(places: np.ndarray, ground: Ground) -> float:
    return float(places.sum()) * ground.frame.step**2


def _same(one: Mark, other: Mark) -> bool:
    reach = PERSISTS_MM + (one.diameter_mm + other.diameter_mm) / 4
    alike = np.sign(one.brightness) == np.sign(other.brightness)
    return bool(alike and np.hypot(one.x - other.x, one.y - other.y) < reach)
