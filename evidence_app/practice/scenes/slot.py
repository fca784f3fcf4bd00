"""A lined slot for a tab of the bail stand, clean or with residue of the old bond.

One seed is one slot; each ``take`` of it is another photo, from another place and
in other light. Take 0 without residue is the clean reference.
"""

from typing import Literal

import numpy as np
from msgspec import Struct

from evidence_app.practice.scenes.canvas import Area, Box, Colour, Strip, around, grown, planes
from evidence_app.practice.scenes.card import CardTruth, paint_card
from evidence_app.practice.scenes.material import FELT, HOUSING, Material, rectangle
from evidence_app.practice.scenes.parts import paint_bench, paint_housing, paint_recess, paint_screw

BODY_MM = 14.0
EDGE_MM = 33.0


class Slot(Struct, frozen=True, kw_only=True):
    """The slot itself, in mm and card coordinates; ``depth_mm`` is its floor below
    the rim, ``lining_mm`` the bare border around the felt."""

    x_mm: float = 0.0
    y_mm: float = 24.0
    length_mm: float = 24.0
    width_mm: float = 7.5
    radius_mm: float = 1.6
    depth_mm: float = 2.6
    lining_mm: float = 0.5
    felt_light: float = 1.0
    housing_light: float = 1.0
    texture: tuple[float, float] = (0.0, 0.0)
    grain: float = 1.0  # of housing and felt, 1 as usual


class Spot(Struct, frozen=True, kw_only=True):
    """A spot of residue. Its radius at angle a is
    ``radius_mm * (1 + sum of lobes[k] * cos((k + 2) a + phases[k]))``, stretched by
    ``stretch`` along x and 1/stretch along y. ``contrast`` is the change of luminance
    against the clean surface (-0.2: 20 percent darker)."""

    x_mm: float
    y_mm: float
    surface: Literal["floor", "rim"]
    radius_mm: float
    contrast: float
    stretch: float = 1.0
    lobes: tuple[float, ...] = ()
    phases: tuple[float, ...] = ()

    def distance(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        dx = (x - np.float32(self.x_mm)) / np.float32(self.stretch)
        dy = (y - np.float32(self.y_mm)) * np.float32(self.stretch)
        return np.hypot(dx, dy) - self._radius(np.arctan2(dy, dx)).astype(np.float32)

    def _radius(self, angle: np.ndarray) -> np.ndarray:
        wave = np.zeros_like(angle)
        for k, (lobe, phase) in enumerate(zip(self.lobes, self.phases, strict=True)):
            wave = wave + lobe * np.cos((k + 2) * angle + phase)
        return self.radius_mm * (1 + wave)


def random_slot(rng: np.random.Generator) -> Slot:
    return Slot(
        x_mm=float(rng.uniform(-8, 8)),
        y_mm=float(rng.uniform(23.0, 25.0)),
        length_mm=float(rng.uniform(20, 27)),
        width_mm=float(rng.uniform(6.5, 8.5)),
        depth_mm=float(rng.uniform(1.8, 3.2)),
        felt_light=float(rng.uniform(0.7, 1.6)),
        housing_light=float(rng.uniform(0.8, 1.3)),
        texture=(float(rng.uniform(0, 40)), float(rng.uniform(0, 40))),
    )


def random_spots(
    rng: np.random.Generator,
    slot: Slot,
    count: int,
    surfaces: tuple[str, ...] = ("floor", "floor", "rim"),
    diameter: tuple[float, float] = (0.5, 2.5),
    contrast: tuple[float, float] = (0.2, 0.6),
) -> tuple[Spot, ...]:
    """Spots that do not touch each other, nor hide under the slot's walls."""
    spots: list[Spot] = []
    for _ in range(60 * count):
        if len(spots) == count:
            break
        size = float(np.exp(rng.uniform(*np.log(diameter))))
        surface: Literal["floor", "rim"] = "floor" if rng.choice(surfaces) == "floor" else "rim"
        reach = size * 0.9
        if surface == "floor":
            room_x = slot.length_mm / 2 - 0.9 - reach
            room_y = slot.width_mm / 2 - 0.9 - reach
            x, y = rng.uniform(-room_x, room_x), rng.uniform(-room_y, room_y)
        else:
            x = rng.uniform(-slot.length_mm / 2, slot.length_mm / 2)
            y = (slot.width_mm / 2 + 0.3 + reach) * rng.choice([-1, 1])
        lobes = tuple(float(v) for v in rng.uniform(-0.22, 0.22, 4) / (1 + np.arange(4) / 2))
        spot = Spot(
            x_mm=slot.x_mm + float(x),
            y_mm=slot.y_mm + float(y),
            surface=surface,
            radius_mm=size / 2 / float(np.sqrt(1 + sum(v * v for v in lobes) / 2)),
            contrast=float(rng.uniform(*contrast) * rng.choice([-1, 1])),
            stretch=float(np.exp(rng.uniform(-0.25, 0.25))),
            lobes=lobes,
            phases=tuple(float(v) for v in rng.uniform(0, 2 * np.pi, 4)),
        )
        if all(
            np.hypot(spot.x_mm - o.x_mm, spot.y_mm - o.y_mm) > 1.3 * (spot.radius_mm + o.radius_mm) + 0.4
            for o in spots
        ):
            spots.append(spot)
    return tuple(spots)


def paint_slot(strip: Strip, slot: Slot, spots: tuple[Spot, ...], card: CardTruth | None) -> None:
    depth = card.thickness_mm if card else 0.5
    paint_bench(strip, depth + BODY_MM)
    housing = HOUSING.times(slot.housing_light, slot.grain)
    paint_housing(strip, depth, EDGE_MM, housing, slot.texture)
    box = around(slot.x_mm, slot.y_mm, slot.length_mm / 2, slot.width_mm / 2)
    for spot in spots:
        if spot.surface == "rim":
            _lay(strip, spot, depth)
    paint_recess(
        strip,
        box,
        depth,
        slot.depth_mm,
        lambda x, y: rectangle(x, y, box, slot.radius_mm),
        housing.times(0.8),
        lambda ground: _floor(ground, slot, spots, box),
    )
    for side in (-1, 1):
        paint_screw(
            strip, slot.x_mm + side * (slot.length_mm / 2 + 6), slot.y_mm, depth, turn_deg=17 * side
        )
    if card is not None:
        paint_card(strip, card)


def _floor(ground: Area, slot: Slot, spots: tuple[Spot, ...], box: Box) -> tuple[np.ndarray, float]:
    """The moulded floor with its felt lining, and what sticks to it."""
    bare = Material((0.055, 0.050, 0.045), "plastic", 0.06, 0.05, 0.15)
    colour = bare.on(ground, slot.texture)
    felt = FELT.times(slot.felt_light, slot.grain).on(ground, slot.texture)
    lined = grown(box, -slot.lining_mm)
    distance = rectangle(ground.x, ground.y, lined, slot.radius_mm - slot.lining_mm)
    share = ground.cover(distance, soft=0.08)
    colour += share * (felt - colour)
    for spot in spots:
        if spot.surface == "floor":
            colour *= _factor(spot, ground)
    return colour, FELT.gloss


def _lay(strip: Strip, spot: Spot, depth: float) -> None:
    area = strip.area(depth, around(spot.x_mm, spot.y_mm, 2.5 * spot.radius_mm))
    if area is not None:
        area.tint(_factor(spot, area))


def _factor(spot: Spot, area: Area) -> np.ndarray:
    """What a spot multiplies the surface's colour by, (3, H, W); amber as old adhesive,
    with the luminance change it was given (weights of ITU-R BT.709)."""
    tint: Colour = (0.80, 0.98, 1.12)
    luminance = 0.0722 * tint[0] + 0.7152 * tint[1] + 0.2126 * tint[2]
    share = area.cover(spot.distance(area.x, area.y), soft=0.06)
    target = planes(tint) * np.float32((1 + spot.contrast) / luminance)
    return 1 + share * (target - 1)
