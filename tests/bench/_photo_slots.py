"""Residue by the kind of photo: each class apart, tuning and scoring seeds apart.

The ranges are those that the comparison must serve; a scoring seed is never looked at while
a limit is set. ``card moved`` lays the card up to 3 mm elsewhere in each photo,
``weak grain`` has a third to a half of the usual texture, ``faint`` spots of 12 to 20 percent.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from msgspec.structs import replace

from evidence_app.photo.refusal import CannotMeasure
from evidence_app.photo.residue.find import find_residue
from evidence_app.practice.scenes.scenes import good_conditions, slot_scene
from evidence_app.practice.scenes.slot import Slot, Spot, random_slot, random_spots
from tests.bench._figures import key_of, told
from tests.photo.drawn import SCORING_SEEDS, TUNING_SEEDS
from tests.photo.truths import jpeg_of

Rng = np.random.Generator
CLASSES: dict[str, Callable[[Rng], dict]] = {
    "usual": lambda rng: {},
    "card moved": lambda rng: {"moved_mm": 3.0},
    "weak grain": lambda rng: {"grain": float(rng.uniform(0.33, 0.5))},
    "faint": lambda rng: {"contrast": (0.12, 0.2)},
}
_SPOTS, _NEAR_MM = 4, 0.8


def _moved(slot: Slot, spots: tuple[Spot, ...], by: np.ndarray) -> tuple[Slot, tuple[Spot, ...]]:
    """The same slot and spots where the card lies elsewhere."""
    x, y = (float(v) for v in by)
    at = (slot.texture[0] - x, slot.texture[1] - y)
    return (
        replace(slot, x_mm=slot.x_mm + x, y_mm=slot.y_mm + y, texture=at),
        tuple(replace(spot, x_mm=spot.x_mm + x, y_mm=spot.y_mm + y) for spot in spots),
    )


def slot_photos(name: str, seed: int, spotted: bool, pixels: int = 4000):
    """Reference, photo, second photo, and the spots on the reference's card plane."""
    rng = np.random.default_rng([seed, 77])
    asked = CLASSES[name](rng)
    slot = replace(random_slot(rng), grain=asked.get("grain", 1.0))
    spots = random_spots(rng, slot, _SPOTS, contrast=asked.get("contrast", (0.2, 0.6)))
    scenes = []
    for take in range(3):
        reach = asked.get("moved_mm", 0.0) * (take > 0)
        by = rng.uniform(-1, 1, 2) * reach / np.sqrt(2)
        here, seen = _moved(slot, spots if spotted and take else (), by)
        conditions = good_conditions(np.random.default_rng([seed, 78, take]), pixels, pixels * 3 // 4, 6.0)
        scenes.append(slot_scene(seed, seen, take, here, conditions))
    return scenes, slot, spots if spotted else ()


def _score(marks, spots: tuple[Spot, ...], slot: Slot, view) -> tuple[int, int]:
    """Spots found and marks that are no spot."""
    left, found = list(marks), 0
    for spot in spots:
        depth = slot.depth_mm if spot.surface == "floor" else 0.0
        x, y = view.to_plane(view.project(np.array([[spot.x_mm, spot.y_mm, depth]])), 0.0)[0][:2]
        near = [m for m in left if np.hypot(m.x - x, m.y - y) < _NEAR_MM + spot.radius_mm]
        if near:
            found += 1
            left.remove(min(near, key=lambda m: np.hypot(m.x - x, m.y - y)))
    return found, len(left)


def slot_rows(photos: int, first: int, seeds: range = SCORING_SEEDS) -> None:
    """One line for each class: sets answered of n, spots found of those in answered sets."""
    print(f"4000 pixels wide, a set with spots and a clean one each; seeds from {seeds[30_000 + first]}")
    for name in CLASSES:
        answered = found = wanted = false = flagged = 0
        reasons = []
        for n in range(photos):
            for spotted in (True, False):
                scenes, slot, spots = slot_photos(name, seeds[30_000 + first + n], spotted)
                clean, one, two = (jpeg_of(scene) for scene in scenes)
                try:
                    residue = find_residue(one, clean, two)
                except CannotMeasure as refusal:
                    reasons.append(refusal.reason)
                    continue
                hits, wrong = _score(residue.marks, spots, slot, scenes[0].view)
                answered, found, wanted = answered + 1, found + hits, wanted + len(spots)
                false += wrong
                flagged += wrong > 0 and not spotted
        told(f"{key_of(name)}-answered", answered, "", 2 * photos)
        told(f"{key_of(name)}-found", found, "", wanted)
        told(f"{key_of(name)}-clean-flagged", flagged, "", photos)
        print(
            f"  {name:<11} answered {answered} of {2 * photos}, found {found} of {wanted}, "
            f"marks that are none {false}, clean sets flagged {flagged}  {reasons}",
            flush=True,
        )


def tuning_slot_rows(photos: int, first: int) -> None:
    slot_rows(photos, first, TUNING_SEEDS)
