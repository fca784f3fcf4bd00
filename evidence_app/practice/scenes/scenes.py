"""Practice scenes of the Ossmere H7: a name and a seed give a picture and its truth.

    scene = seam_scene(seed=7, seam=Seam(width_mm=0.3), conditions=Conditions())
    scene.picture   (H, W, 3) uint8 BGR
    scene.truth     what is really there, in mm of the card

The same arguments give the same picture; ``take`` gives another photo of the same
thing, from another place, in other light and with other noise. Scenes used to tune a measurement and
scenes used to score it come from seed ranges that do not meet.
"""

import cv2
import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from evidence_app.practice.optics import Conditions, View, view_of
from evidence_app.practice.scenes.canvas import Light, lamps, render
from evidence_app.practice.scenes.card import CardTruth
from evidence_app.practice.scenes.device import VIEWS, DeviceTruth
from evidence_app.practice.scenes.mesh import Mesh, paint_mesh
from evidence_app.practice.scenes.mesh import truth_of as mesh_truth_of
from evidence_app.practice.scenes.seam import Seam, paint_seam, shape_of, truth_of
from evidence_app.practice.scenes.slot import Slot, SlotTruth, Spot, paint_slot, random_slot

FLAT_CARD = CardTruth()


class Scene(Struct, frozen=True, eq=False):
    """A rendered picture with what is known of it."""

    name: str
    seed: int
    conditions: Conditions
    picture: np.ndarray
    truth: Struct

    def jpeg(self) -> bytes:
        """The picture as a camera's JPEG file would hold it, without Exif."""
        _, data = cv2.imencode(
            ".jpg", self.picture, [cv2.IMWRITE_JPEG_QUALITY, self.conditions.jpeg_quality]
        )
        return data.tobytes()


def good_conditions(
    rng: np.random.Generator, width: int = 4000, height: int = 3000, tilt_deg: float = 12.0
) -> Conditions:
    """Conditions under which a photo should be accepted and measured."""
    lean = rng.uniform(0, 2 * np.pi)
    tilt = tilt_deg * np.sqrt(rng.uniform())
    return Conditions(
        width=width,
        height=height,
        field_mm=float(rng.uniform(101, 116)),
        focal_widths=float(rng.uniform(1.0, 1.7)),
        tilt_x_deg=float(tilt * np.cos(lean)),
        tilt_y_deg=float(np.clip(tilt * np.sin(lean), -7, 7)),
        roll_deg=float(rng.uniform(-4, 4)),
        shift_x_mm=float(rng.uniform(-2, 2)),
        shift_y_mm=float(rng.uniform(-2, 2)),
        radial=float(rng.uniform(-0.04, 0.04)),
        blur_px=float(rng.uniform(0.55, 0.95)),
        exposure=float(rng.uniform(-0.30, 0.08)),
        shading=float(rng.uniform(0.1, 0.8)),
        noise=float(rng.uniform(0.8, 3.5)),
        sharpen=float(rng.uniform(0.0, 0.8)),
        contrast=float(rng.uniform(0.0, 0.3)),
        jpeg_quality=int(rng.integers(88, 97)),
    )


def seam_scene(
    seed: int,
    seam: Seam,
    conditions: Conditions | None = None,
    card: CardTruth | None = FLAT_CARD,
    take: int = 0,
) -> Scene:
    """The window's seam with the card beside it; ``card=None`` leaves the card away."""
    made = np.random.default_rng([seed, 1])
    shape = shape_of(seam, made)
    lint = [
        (float(made.uniform(-44, 44)), float(made.uniform(20, 160)), float(made.uniform(0.6, 1.8)))
        for _ in range(seam.lint)
    ]
    conditions, view, light = _set_up(seed, take, 1, conditions, (0.0, seam.distance_mm - 9.0))
    picture = render(
        view,
        conditions,
        light,
        _noise_seed(seed, take),
        lambda strip: paint_seam(strip, seam, shape, card, lint),
    )
    return Scene("seam", seed, conditions, picture, truth_of(seam, shape, view, card))


def mesh_scene(
    seed: int,
    mesh: Mesh,
    conditions: Conditions | None = None,
    card: CardTruth | None = FLAT_CARD,
    take: int = 0,
) -> Scene:
    """An acoustic mesh strip in its opening with the card beside it."""
    conditions, view, light = _set_up(seed, take, 2, conditions, (0.0, mesh.y_mm - 12.0), 4.0)
    picture = render(
        view, conditions, light, _noise_seed(seed, take), lambda strip: paint_mesh(strip, mesh, card)
    )
    return Scene("mesh", seed, conditions, picture, mesh_truth_of(mesh, view, card))


def slot_scene(
    seed: int,
    spots: tuple[Spot, ...] = (),
    take: int = 0,
    slot: Slot | None = None,
    conditions: Conditions | None = None,
    card: CardTruth | None = FLAT_CARD,
) -> Scene:
    """A lined slot. The seed is the slot, ``take`` another photo of the same one."""
    slot = slot or random_slot(np.random.default_rng([seed, 3]))
    conditions, view, light = _set_up(seed, take, 3, conditions, (0.0, slot.y_mm - 12.0), 6.0)
    picture = render(
        view, conditions, light, _noise_seed(seed, take), lambda strip: paint_slot(strip, slot, spots, card)
    )
    return Scene("slot", seed, conditions, picture, SlotTruth(slot, card, view, spots))


def device_scene(
    name: str,
    seed: int,
    conditions: Conditions | None = None,
    absent: tuple[str, ...] = (),
    serial: str = "H7-204-11873",
    take: int = 0,
) -> Scene:
    """A scene to be looked at, one of scenes_device.VIEWS; ``absent`` names parts that
    are not in place. Raises KeyError for a scene or part that there is not."""
    seen = VIEWS[name]
    for part in absent:
        if part not in seen.parts:
            raise KeyError(part)
    present = {part: part not in absent for part in seen.parts}
    conditions, view, light = _set_up(seed, take, 6, conditions, seen.aim, 9.0, scale=seen.field_mm / 104.0)
    picture = render(
        view, conditions, light, _noise_seed(seed, take), lambda strip: seen.paint(strip, present, serial)
    )
    return Scene(name, seed, conditions, picture, DeviceTruth(view, present, serial))


def _set_up(
    seed: int,
    take: int,
    kind: int,
    conditions: Conditions | None,
    aim: tuple[float, float],
    tilt_deg: float = 12.0,
    scale: float = 1.0,
) -> tuple[Conditions, View, Light]:
    """Camera and lamps of one photo; ``scale`` widens what is seen."""
    rng = np.random.default_rng([seed, kind, 8, take])
    drawn = good_conditions(rng, tilt_deg=tilt_deg)
    conditions = conditions or drawn
    conditions = replace(conditions, field_mm=conditions.field_mm * scale)
    return conditions, view_of(conditions, aim), lamps(conditions, rng)


def _noise_seed(seed: int, take: int) -> int:
    return seed * 1000 + take
