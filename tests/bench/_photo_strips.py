"""Strips by their kind: each class apart, tuning and scoring seeds apart.

The ranges are those that the measurement must serve; a scoring seed is never looked at while
a limit is set. What a class asks of the strip: ``usual`` as in the samples, ``narrow`` 1 to 2
mm wide, ``one row`` of holes along its middle, ``few holes`` in a wide pattern.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from msgspec.structs import replace

from evidence_app.photo import intake
from evidence_app.photo.mesh.measure import known_recess, measure_mesh
from evidence_app.photo.refusal import CannotMeasure
from evidence_app.practice.scenes.mesh import Mesh
from evidence_app.practice.scenes.scenes import good_conditions, mesh_scene
from evidence_app.steplist.model import USUAL_RECESS_TOLERANCE
from tests.bench._figures import key_of, told
from tests.photo.drawn import SCORING_SEEDS, TUNING_SEEDS, random_mesh
from tests.photo.truths import jpeg_of, truth_of

Rng = np.random.Generator


def _sized(rng: Rng, width: float, length: float, **rest: float) -> dict[str, float]:
    """A strip of that size in an opening with the usual play, lying well within it."""
    play = rng.uniform(0.6, 0.9)
    return {
        "strip_width_mm": width,
        "strip_length_mm": length,
        "opening_width_mm": width + play,
        "opening_length_mm": length + rng.uniform(0.8, 1.2),
        "offset_across_mm": rng.uniform(-0.2, 0.2) * play,
        "rotation_deg": rng.uniform(-1, 1) * np.degrees(0.15 * play / (length / 2)),
        **rest,
    }


CLASSES: dict[str, Callable[[Rng], dict[str, float]]] = {
    "usual": lambda rng: {},
    "narrow": lambda rng: _sized(rng, rng.uniform(1.0, 2.0), rng.uniform(12, 28), margin_mm=0.25),
    "one row": lambda rng: _sized(
        rng,
        rng.uniform(1.0, 1.6),
        rng.uniform(10, 24),
        pitch_mm=rng.uniform(0.9, 1.2),
        hole_mm=0.45,
        margin_mm=0.2,
    ),
    "few holes": lambda rng: _sized(
        rng, rng.uniform(2.5, 4.5), rng.uniform(12, 20), pitch_mm=rng.uniform(1.0, 1.6), hole_mm=0.6
    ),
}


def strip_scene(name: str, seed: int, pixels: int):
    rng = np.random.default_rng([seed, 77])
    mesh: Mesh = replace(random_mesh(rng), **{k: float(v) for k, v in CLASSES[name](rng).items()})
    conditions = good_conditions(np.random.default_rng([seed, 78]), pixels, pixels * 3 // 4, 4.0)
    return mesh_scene(seed, mesh, conditions)


def strip_rows(photos: int, first: int, seeds: range = SCORING_SEEDS) -> None:
    """One line for each class: answered of n, error across and of the turn, share of U that holds."""
    for pixels in (4000, 2000):
        print(f"{pixels} pixels wide, recess known; seeds from {seeds[25_000 + first]}")
        for name in CLASSES:
            errors, covered, reasons = [], 0, []
            for n in range(photos):
                scene = strip_scene(name, seeds[25_000 + first + n], pixels)
                truth = truth_of(scene)
                recess = known_recess(truth.mesh.recess_mm, USUAL_RECESS_TOLERANCE)
                try:
                    mesh = measure_mesh(intake.decode_luma(jpeg_of(scene)), None, recess)
                except CannotMeasure as refusal:
                    reasons.append(refusal.reason)
                    continue
                true = (truth.offset_along_mm, truth.offset_across_mm, truth.rotation_deg)
                off = [
                    abs(mesh.values[k] - v)
                    for k, v in zip(("along", "across", "rotation"), true, strict=True)
                ]
                errors.append(off)
                covered += off[1] <= mesh.budgets["across"].expanded()
            found = ""
            if errors:
                tail = np.quantile(np.array(errors), 0.95, axis=0)
                found = (
                    f"95 % along {tail[0]:.3f}, across {tail[1]:.3f} mm, turn {tail[2]:.2f} degrees, "
                    f"U across holds {covered}"
                )
            told(f"{key_of(name)}-answered", len(errors), "", photos)
            print(f"  {name:<10} answered {len(errors)} of {photos}  {found}  {reasons}", flush=True)


def tuning_strip_rows(photos: int, first: int) -> None:
    strip_rows(photos, first, TUNING_SEEDS)
