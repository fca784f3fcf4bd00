"""Practice scenes of the Petrel H7: a name and a seed give a picture and its truth.

    scene = seam_scene(seed=7, seam=Seam(width_mm=0.3), conditions=Conditions())
    scene.picture   (H, W, 3) uint8 BGR
    scene.truth     what is really there, in mm of the card

The same arguments give the same picture. Scenes used to tune a measurement and
scenes used to score it come from seed ranges that do not meet.
"""

from __future__ import annotations

import cv2
import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from evidence_app.practice.optics import Conditions, view_of
from evidence_app.practice.scenes_canvas import lamps, render
from evidence_app.practice.scenes_card import CardTruth
from evidence_app.practice.scenes_seam import Seam, SeamTruth, paint_seam, shape_of, truth_of

TUNING_SEEDS = range(1_000, 50_000)
SCORING_SEEDS = range(500_000, 600_000)
DEMO_SEEDS = range(1, 1_000)


class Scene(Struct, frozen=True, eq=False):
    """A rendered picture with what is known of it."""

    name: str
    seed: int
    conditions: Conditions
    picture: np.ndarray
    truth: Struct

    def jpeg(self) -> bytes:
        """The picture as a camera's JPEG file would hold it, without Exif."""
        _, data = cv2.imencode(".jpg", self.picture,
                               [cv2.IMWRITE_JPEG_QUALITY, self.conditions.jpeg_quality])
        return data.tobytes()


def good_conditions(rng: np.random.Generator, width: int = 4000, height: int = 3000,
                    tilt_deg: float = 12.0) -> Conditions:
    """Conditions under which a photo should be accepted and measured."""
    lean = rng.uniform(0, 2 * np.pi)
    tilt = tilt_deg * np.sqrt(rng.uniform())
    return Conditions(
        width=width, height=height,
        field_mm=float(rng.uniform(101, 116)),
        focal_widths=float(rng.uniform(1.0, 1.7)),
        tilt_x_deg=float(tilt * np.cos(lean)),
        tilt_y_deg=float(np.clip(tilt * np.sin(lean), -7, 7)),
        roll_deg=float(rng.uniform(-4, 4)),
        shift_x_mm=float(rng.uniform(-2, 2)),
        shift_y_mm=float(rng.uniform(-2, 2)),
        radial=float(rng.uniform(-0.04, 0.04)),
        blur_px=float(rng.uniform(0.55, 0.95)),
        exposure=float(rng.uniform(-0.45, 0.05)),
        shading=float(rng.uniform(0.1, 0.8)),
        noise=float(rng.uniform(0.8, 3.5)),
        sharpen=float(rng.uniform(0.0, 0.8)),
        contrast=float(rng.uniform(0.0, 0.3)),
        jpeg_quality=int(rng.integers(88, 97)),
    )


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


def seam_scene(seed: int, seam: Seam | None = None, conditions: Conditions | None = None,
               card: CardTruth | None = CardTruth()) -> Scene:  # noqa: B008  (frozen)
    """The window's seam with the card beside it; ``card=None`` leaves the card away."""
    rng = np.random.default_rng([seed, 1])
    seam = seam or random_seam(rng)
    conditions = conditions or good_conditions(rng)
    shape = shape_of(seam, rng)
    view = view_of(conditions, (0.0, seam.distance_mm - 9.0))
    light = lamps(conditions, rng)
    lint = [(float(rng.uniform(-44, 44)), float(rng.uniform(20, 160)), float(rng.uniform(0.6, 1.8)))
            for _ in range(seam.lint)]
    picture = render(view, conditions, light, seed,
                     lambda strip: paint_seam(strip, seam, shape, card, lint))
    return Scene("seam", seed, conditions, picture, truth_of(seam, shape, view, card))
