"""Practice scenes of the Ossmere H7: a name and a seed give a picture and its truth.

    scene = seam_scene(seed=7, seam=Seam(width_mm=0.3), conditions=Conditions())
    scene.picture   (H, W, 3) uint8 BGR
    scene.painted   what is really there, in mm of the card

The same arguments give the same picture; ``take`` gives another photo of the same
thing, from another place, in other light and with other noise. Scenes used to tune a measurement and
scenes used to score it come from seed ranges that do not meet.
"""

from collections.abc import Callable

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from evidence_app.practice.optics import Conditions, View, view_of
from evidence_app.practice.scenes.canvas import lamps, render
from evidence_app.practice.scenes.card import CardTruth
from evidence_app.practice.scenes.device import VIEWS
from evidence_app.practice.scenes.mesh import Mesh, paint_mesh
from evidence_app.practice.scenes.seam import Seam, paint_seam, shape_of
from evidence_app.practice.scenes.slot import Slot, Spot, paint_slot, random_slot

FLAT_CARD = CardTruth()


class Scene(Struct, frozen=True, eq=False):
    """A rendered picture with what is known of it: the camera that saw it, and the things that
    were handed to its painter."""

    conditions: Conditions
    picture: np.ndarray
    view: View
    painted: tuple


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
    paint: Callable[..., None] = paint_seam,
) -> Scene:
    """The window's seam with the card beside it; ``card=None`` leaves the card away."""
    made = np.random.default_rng([seed, 1])
    shape = shape_of(seam, made)
    lint = [
        (float(made.uniform(-44, 44)), float(made.uniform(20, 160)), float(made.uniform(0.6, 1.8)))
        for _ in range(seam.lint)
    ]
    aim = (0.0, seam.distance_mm - 9.0)
    return _photographed(seed, take, 1, conditions, aim, paint, (seam, shape, card, lint))


def mesh_scene(
    seed: int,
    mesh: Mesh,
    conditions: Conditions | None = None,
    card: CardTruth | None = FLAT_CARD,
    take: int = 0,
) -> Scene:
    """An acoustic mesh strip in its opening with the card beside it."""
    aim = (0.0, mesh.y_mm - 12.0)
    return _photographed(seed, take, 2, conditions, aim, paint_mesh, (mesh, card), 4.0)


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
    aim = (0.0, slot.y_mm - 12.0)
    return _photographed(seed, take, 3, conditions, aim, paint_slot, (slot, spots, card), 6.0)


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
    wider = seen.field_mm / 104.0
    return _photographed(seed, take, 6, conditions, seen.aim, seen.paint, (present, serial), 9.0, wider)


def _photographed(
    seed: int,
    take: int,
    kind: int,
    conditions: Conditions | None,
    aim: tuple[float, float],
    paint: Callable[..., None],
    painted: tuple,
    tilt_deg: float = 12.0,
    scale: float = 1.0,
) -> Scene:
    """One photo, its camera and lamps set up by ``seed``, ``take`` and ``kind``, of what ``paint``
    makes of the things ``painted`` on each strip; ``scale`` widens what is seen."""
    rng = np.random.default_rng([seed, kind, 8, take])
    drawn = good_conditions(rng, tilt_deg=tilt_deg)
    conditions = conditions or drawn
    conditions = replace(conditions, field_mm=conditions.field_mm * scale)
    view, light = view_of(conditions, aim), lamps(conditions, rng)
    picture = render(view, conditions, light, seed * 1000 + take, lambda strip: paint(strip, *painted))
    return Scene(conditions, picture, view, painted)
