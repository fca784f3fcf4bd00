"""Residue in lined slots on rendered photos against its truth; a part of ``photo``.

Each slot is photographed clean for reference, then twice with four spots of 0.5 mm to 2.5 mm
and at least 20 percent contrast on floor and rim, and twice clean again, always from another
place and in other light. 12 megapixels, scoring seeds only.
"""

from __future__ import annotations

import time
from collections.abc import Iterable

import numpy as np
from msgspec import Struct

from evidence_app.photo.refusal import CannotMeasure
from evidence_app.photo.residue.find import Residue, find_residue
from evidence_app.practice.scenes.scenes import good_conditions, slot_scene
from evidence_app.practice.scenes.slot import Slot, Spot, random_slot, random_spots
from tests.bench._figures import told
from tests.photo.drawn import SCORING_SEEDS
from tests.photo.truths import area_mm2, jpeg_of

SPOTS = 4
TARGET_RECALL, TARGET_PRECISION, TARGET_FLAGGED = 0.95, 0.8, 0.2
_WIDTH = 4000
_NEAR_MM = 0.6  # beyond the spot's own radius


class Trial(Struct, frozen=True):
    """One comparison; ``found`` says of each spot's surface whether it was marked, ``false``
    counts the marks that are no spot, ``area`` holds the ratio of found areas to true ones."""

    seconds: float
    reason: str | None = None
    spots: tuple[tuple[str, bool], ...] = ()
    false: int = 0
    area: tuple[float, ...] = ()


def residue_rows(slots: int, first: int) -> None:
    print(f"\nResidue, 12 megapixels, {slots} slots, each with {SPOTS} spots and clean")
    report(trials(SCORING_SEEDS[first : first + slots]))


def trials(seeds: Iterable[int]) -> tuple[list[Trial], list[Trial]]:
    """Of slots with spots, and of clean ones."""
    dirty, clean = [], []
    for seed in seeds:
        slot = random_slot(np.random.default_rng([seed, 3]))
        spots = tuple(random_spots(np.random.default_rng([seed, 5]), slot, SPOTS))
        reference = _photo(seed, 0, slot, ())
        for kind, wanted in ((dirty, spots), (clean, ())):
            trial = _trial(seed, slot, wanted, reference)
            kind.append(trial)
            missed = [surface for surface, found in trial.spots if not found]
            if trial.reason or missed or trial.false:
                print(
                    f"  seed {seed}, {len(wanted)} spots: refused: {trial.reason}; missed: "
                    f"{', '.join(missed) or 'none'}; false marks: {trial.false}",
                    flush=True,
                )
    return dirty, clean


def _photo(seed: int, take: int, slot: Slot, spots: tuple[Spot, ...]):
    rng = np.random.default_rng([seed, 7, take])
    conditions = good_conditions(rng, _WIDTH, _WIDTH * 3 // 4, 6.0)
    return slot_scene(seed, spots, take, slot, conditions)


def _trial(seed: int, slot: Slot, spots: tuple[Spot, ...], reference) -> Trial:
    before = jpeg_of(reference)
    one, two = (jpeg_of(_photo(seed, take, slot, spots)) for take in (1, 2))
    begun = time.process_time()
    try:
        found = find_residue(one, before, two)
    except CannotMeasure as refusal:
        return Trial(time.process_time() - begun, refusal.reason)
    return _judged(found, slot, spots, reference.view, time.process_time() - begun)


def _judged(found: Residue, slot: Slot, spots: tuple[Spot, ...], view, seconds: float) -> Trial:
    left, said, area = list(found.marks), [], []
    for spot in spots:
        depth = slot.depth_mm if spot.surface == "floor" else 0.0
        pixels = view.project(np.array([[spot.x_mm, spot.y_mm, depth]]))
        x, y = view.to_plane(pixels, 0.0)[0][:2]
        near = [m for m in left if np.hypot(m.x - x, m.y - y) < _NEAR_MM + spot.radius_mm]
        said.append((spot.surface, bool(near)))
        if near:
            mark = min(near, key=lambda m: np.hypot(m.x - x, m.y - y))
            left.remove(mark)
            area.append(mark.area_mm2 / area_mm2(spot))
    return Trial(seconds, None, tuple(said), len(left), tuple(area))


def report(both: tuple[list[Trial], list[Trial]]) -> None:
    dirty, clean = both
    answered = [t for t in (*dirty, *clean) if t.reason is None]
    print(f"answered {len(answered)} of {len(dirty) + len(clean)}")
    spots = [spot for t in dirty for spot in t.spots]
    found = sum(hit for _, hit in spots)
    false = sum(t.false for t in dirty)
    for surface in ("floor", "rim"):
        hits = [hit for where, hit in spots if where == surface]
        print(f"  spots on the {surface}: {sum(hits)} of {len(hits)} found")
    told("recall", found / max(1, len(spots)), "", len(spots))
    told("precision", found / max(1, found + false), "", found + false)
    print(
        f"recall {found / max(1, len(spots)):.2f} (target {TARGET_RECALL}), precision "
        f"{found / max(1, found + false):.2f} (target {TARGET_PRECISION})"
    )
    flagged = sum(t.false > 0 for t in clean)
    told("clean-flagged", flagged, "", sum(t.reason is None for t in clean))
    print(
        f"clean pairs flagged: {flagged} of {sum(t.reason is None for t in clean)} (target at "
        f"most {TARGET_FLAGGED:.0%})"
    )
    ratios = [ratio for t in dirty for ratio in t.area]
    if ratios:
        print(
            f"area found / true: median {np.median(ratios):.2f}, 5 to 95 percent "
            f"{np.quantile(ratios, 0.05):.2f} to {np.quantile(ratios, 0.95):.2f}"
        )
    seconds = [t.seconds for t in (*dirty, *clean)]
    print(
        f"processor time of a comparison: median {np.median(seconds):.2f} s, longest {max(seconds):.2f} s",
        flush=True,
    )
