"""Seams by the kind of their edges: each class apart, tuning and scoring seeds apart.

The ranges are those that the measurement must serve; a scoring seed is never looked at while
a limit is set.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from msgspec.structs import replace

from evidence_app.photo import intake
from evidence_app.photo.gap.measure import MOST_LEAN_DEG, measure_gap
from evidence_app.photo.gate.live import MOST_LEAN_DEG as AIMED_DEG
from evidence_app.photo.refusal import CannotMeasure
from evidence_app.practice.scenes.scenes import good_conditions, seam_scene
from evidence_app.practice.scenes.seam import Seam
from tests.bench._figures import key_of, middle, told
from tests.photo.drawn import SCORING_SEEDS, TUNING_SEEDS, median_mm, random_seam
from tests.photo.truths import jpeg_of, truth_of

Rng = np.random.Generator
# Estimates of the lean are good to about half a degree: at the limit either is right.
AT_LIMIT_DEG = 0.6
_EVEN = {"wave_mm": 0.008, "lift_mm": 0.0, "lint": 0}
CLASSES: dict[str, Callable[[Rng], dict[str, float | str]]] = {
    "plain": lambda rng: {"chamfer_light": 0.0, "chamfer_mm": 0.0, "wall_light": 0.0},
    "chamfered": lambda rng: {"chamfer_light": rng.uniform(0.02, 0.13)},
    "bright chamfer": lambda rng: {
        "chamfer_light": rng.uniform(0.13, 0.3),
        "chamfer_mm": rng.uniform(0.05, 0.16),
    },
    "thin chamfer": lambda rng: {
        "chamfer_light": rng.uniform(0.02, 0.1),
        "chamfer_mm": rng.uniform(0.005, 0.03),
        "panel": "dark",
    },
    "highlight off the edge": lambda rng: {
        "chamfer_light": rng.uniform(0.05, 0.3),
        "chamfer_mm": rng.uniform(0.03, 0.1),
        "chamfer_start_mm": rng.uniform(0.03, 0.1),
    },
    "stepped": lambda rng: {"step_mm": float(rng.choice([-1, 1]) * rng.uniform(0.08, 0.15))},
    "bright floor": lambda rng: {"gap_light": rng.uniform(0.015, 0.03)},
    "too bright floor": lambda rng: {"gap_light": rng.uniform(0.05, 0.08)},
}


def edge_seam(name: str, seed: int) -> Seam:
    rng = np.random.default_rng([seed, 77])
    width = float(np.exp(rng.uniform(np.log(0.08), np.log(0.6))))
    return replace(random_seam(rng), width_mm=width, **_EVEN, **CLASSES[name](rng))


def edge_photo(name: str, seed: int, pixels: int, blur_px: float | None = None):
    conditions = good_conditions(np.random.default_rng([seed, 78]), pixels, pixels * 3 // 4, 8.0)
    if blur_px is not None:
        conditions = replace(conditions, blur_px=blur_px)
    return seam_scene(seed, edge_seam(name, seed), conditions)


def edge_rows(photos: int, first: int, seeds: range = SCORING_SEEDS) -> None:
    """One line for each class: answered of n, errors of the median width, share of U that holds.
    Photos that lean by more than is measured are counted apart: there a refusal is right. So
    are those whose camera is above the seam, as the live picture asks for."""
    for pixels in (4000, 2000):
        print(f"{pixels} pixels wide; seeds from {seeds[20_000 + first]}")
        tails, straight, covered = [], [], []
        for name in CLASSES:
            found, reasons, leaning, aimed = [], [], [], []
            for n in range(photos):
                scene = edge_photo(name, seeds[20_000 + first + n], pixels)
                beyond = abs(truth_of(scene).lean_across_deg) > MOST_LEAN_DEG - AT_LIMIT_DEG
                try:
                    gap = measure_gap(intake.decode_luma(jpeg_of(scene)))
                except CannotMeasure as refusal:
                    (leaning if beyond else reasons).append(refusal.reason)
                    continue
                span = gap.stations[0, 0] - 0.25, gap.stations[-1, 0] + 0.25
                error, u = gap.median_mm - median_mm(truth_of(scene), *span), gap.budget.expanded()
                if not beyond:
                    found.append((error, u))
                if abs(truth_of(scene).lean_across_deg) <= AIMED_DEG:
                    aimed.append(abs(error))
                if beyond or abs(error) > u:
                    print(f"    photo {n}, lean {gap.lean_deg:.1f}: error {error:+.4f}, U {u:.4f}")
            said = ""
            if found:
                error, u = np.array(found).T
                tail = np.quantile(np.abs(error), 0.95)
                tails.append(tail)
                covered += (np.abs(error) <= u).tolist()
                told(f"{key_of(name)}-within", tail, "mm", len(found))
                told(f"{key_of(name)}-covered", (np.abs(error) <= u).mean(), "", len(found))
                said = (
                    f"mean error {error.mean():+.4f}, of sizes {np.abs(error).mean():.4f}, 95 % {tail:.4f} "
                    f"mm, U holds {(np.abs(error) <= u).sum()}, median U {np.median(u):.4f}"
                )
            told(f"{key_of(name)}-answered", len(found), "", len(found) + len(reasons))
            if aimed:
                straight.append(np.quantile(aimed, 0.95))
                told(f"{key_of(name)}-aimed-within", np.quantile(aimed, 0.95), "mm", len(aimed))
                said += f"; {len(aimed)} aimed at the seam: 95 % {np.quantile(aimed, 0.95):.4f} mm"
            print(
                f"  {name:<23} answered {len(found)} of {len(found) + len(reasons)}  {said}  {reasons}"
                f"{f'; beyond the lean: {leaning}' if leaning else ''}",
                flush=True,
            )
        told("covered", sum(covered), f"of {len(covered)}")
        for key, values in (("within", tails), ("aimed-within", straight)):
            if values:
                middle(key, values, "mm")


def tuning_rows(photos: int, first: int) -> None:
    edge_rows(photos, first, TUNING_SEEDS)
