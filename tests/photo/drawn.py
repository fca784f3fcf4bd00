"""Seams and strips drawn at random, and the seeds of those that tuning sees and those that score."""

from __future__ import annotations

import numpy as np

from evidence_app.practice.scenes.mesh import Mesh
from evidence_app.practice.scenes.scenes import Scene, mesh_scene, seam_scene
from evidence_app.practice.scenes.seam import Seam
from tests.photo.truths import SeamTruth

TUNING_SEEDS = range(1_000, 50_000)
SCORING_SEEDS = range(500_000, 600_000)


def drawn_seam_scene(seed: int, **given) -> Scene:
    return seam_scene(seed, random_seam(np.random.default_rng([seed, 1])), **given)


def drawn_mesh_scene(seed: int, **given) -> Scene:
    return mesh_scene(seed, random_mesh(np.random.default_rng([seed, 2])), **given)


def random_seam(rng: np.random.Generator) -> Seam:
    """A seam of any width from 0.05 to 1.0 mm, most of them narrow."""
    width = float(np.exp(rng.uniform(np.log(0.05), np.log(1.0))))
    return Seam(
        width_mm=width,
        taper_mm=float(rng.uniform(-0.15, 0.15) * width),
        wave_mm=float(rng.uniform(0.002, 0.012)),
        lift_mm=float(rng.choice([0.0, 1.0]) * rng.uniform(0.05, 0.3)),
        lift_at_mm=float(rng.uniform(-36, 36)),
        lift_length_mm=float(rng.uniform(5, 14)),
        step_mm=float(rng.normal(0, 0.05)),
        chamfer_mm=float(rng.uniform(0.0, 0.16)),
        chamfer_light=float(rng.uniform(0.02, 0.10)),
        wall_light=float(rng.uniform(0.0, 0.10)),
        gap_light=float(rng.uniform(0.003, 0.014)),
        panel="light" if rng.uniform() < 0.35 else "dark",
        panel_light=float(rng.uniform(0.7, 1.4)),
        housing_light=float(rng.uniform(0.6, 1.5)),
        card_on="housing" if rng.uniform() < 0.25 else "panel",
        distance_mm=float(rng.uniform(19.5, 24.0)),
        lean_deg=float(rng.uniform(-2.0, 2.0)),
        lint=int(rng.integers(0, 3)),
    )


def random_mesh(rng: np.random.Generator) -> Mesh:
    """A strip that stays inside its opening, more or less well placed."""
    rotation = float(np.clip(rng.normal(0, 0.5), -1.3, 1.3))
    room = 0.40 - 12.5 * abs(np.sin(np.radians(rotation)))
    return Mesh(
        offset_along_mm=float(rng.uniform(-0.42, 0.42)),
        offset_across_mm=float(rng.uniform(-1, 1) * max(0.02, room)),
        rotation_deg=rotation,
        recess_mm=float(rng.uniform(0.1, 0.5)),
        ledge_mm=float(rng.uniform(0.1, 0.25)),
        x_mm=float(rng.uniform(-12, 12)),
        y_mm=float(rng.uniform(21.5, 24.0)),
        lean_deg=float(rng.uniform(-1.5, 1.5)),
        strip_light=float(rng.uniform(0.7, 1.8)),
        ledge_light=float(rng.uniform(0.5, 1.6)),
        housing_light=float(rng.uniform(0.7, 1.4)),
    )


def median_mm(truth: SeamTruth, start: float = -44.0, end: float = 44.0) -> float:
    """The gap's median width between two places along the seam, mm."""
    return float(np.median(_between(truth, start, end)))


def largest_mm(truth: SeamTruth, start: float = -44.0, end: float = 44.0, over: float = 2.0) -> float:
    """Largest mean width over any stretch of ``over`` mm."""
    count = round(over / 0.05) + 1
    return float(np.convolve(_between(truth, start, end), np.ones(count) / count, "valid").max())


def _between(truth: SeamTruth, start: float, end: float) -> np.ndarray:
    return truth.width_mm[(truth.along_mm >= start) & (truth.along_mm <= end)]
