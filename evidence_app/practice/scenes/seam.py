"""The seam between the Ossmere H7's window and its housing, with the card beside it.

Seam coordinates: ``along`` runs with the card's x axis but leans by ``lean_deg``,
``across`` points away from the card; both are 0 at the point (0, distance_mm).
The gap is the space between two vertical walls; a chamfer belongs to the panel
and is not part of it. Its true width is the distance of the walls' upper edges.
"""

from typing import Literal

import numpy as np
from msgspec import Struct

from evidence_app.practice.optics import View
from evidence_app.practice.scenes import material as m
from evidence_app.practice.scenes.canvas import Area, Strip, planes
from evidence_app.practice.scenes.card import CardTruth, paint_card
from evidence_app.practice.scenes.parts import paint_bench, paint_lint, paint_screw, paint_words

BODY_MM = 14.0  # the device stands this high on the bench
BEZEL_MM = 12.0  # from the seam to the housing's outer edge
GAP_DEPTH_MM = 1.4


class Seam(Struct, frozen=True, kw_only=True):
    """A seam as made. Widths in mm; ``lift_mm`` is the extra width at the top of a
    bulge of ``lift_length_mm`` (full width at half height) around ``lift_at_mm``.

    ``step_mm`` is how far the panel stands above the housing (negative: below).
    ``wall_light`` is how bright the top of a visible gap wall is against its
    surface.
    """

    width_mm: float = 0.22
    taper_mm: float = 0.0
    wave_mm: float = 0.008
    lift_mm: float = 0.0
    lift_at_mm: float = 0.0
    lift_length_mm: float = 8.0
    step_mm: float = 0.0
    chamfer_mm: float = 0.10
    chamfer_light: float = 0.06
    chamfer_start_mm: float = 0.0  # from the edge: a rounding's highlight starts off it
    wall_light: float = 0.06
    gap_light: float = 0.006
    panel: Literal["dark", "light"] = "dark"
    panel_light: float = 1.0
    housing_light: float = 1.0
    card_on: Literal["panel", "housing"] = "panel"
    distance_mm: float = 22.0
    lean_deg: float = 0.0
    lint: int = 1
    leaf_mm: float | None = None  # a feeler gauge leaf of this thickness in the gap


class Shape(Struct, frozen=True, eq=False):
    """The edges of a seam as functions of the place along it."""

    along: np.ndarray
    width: np.ndarray
    middle: np.ndarray

    def edges(self, along: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Near edge, far edge and width (all across, mm) at places along."""
        width = np.interp(along, self.along, self.width).astype(np.float32)
        middle = np.interp(along, self.along, self.middle).astype(np.float32)
        return middle - width / 2, middle + width / 2, width


def shape_of(seam: Seam, rng: np.random.Generator) -> Shape:
    along = np.arange(-90.0, 90.0001, 0.05)
    width = seam.width_mm + seam.taper_mm * along / 88.0
    middle = np.zeros_like(along)
    for length in (61.0, 23.0, 9.0):
        width = width + seam.wave_mm * 0.6 * np.sin(2 * np.pi * (along / length + rng.uniform()))
        middle = middle + 0.012 * np.sin(2 * np.pi * (along / length + rng.uniform()))
    spread = seam.lift_length_mm / 2.355
    width = width + seam.lift_mm * np.exp(-0.5 * ((along - seam.lift_at_mm) / spread) ** 2)
    return Shape(along, np.maximum(width, 0.015), middle)


def depths(seam: Seam, card: CardTruth | None) -> tuple[float, float]:
    """Depth of the surface on the card's side, and of the one beyond the seam."""
    near = card.thickness_mm if card else 0.5
    return near, near + (seam.step_mm if seam.card_on == "panel" else -seam.step_mm)


def paint_seam(
    strip: Strip, seam: Seam, shape: Shape, card: CardTruth | None, lint: list[tuple[float, float, float]]
) -> None:
    near_depth, far_depth = depths(seam, card)
    paint_bench(strip, near_depth + BODY_MM)
    near, far = _materials(seam)
    _paint_far(strip, seam, far, far_depth)
    _paint_near(strip, seam, near, near_depth)
    _paint_gap(strip, seam, shape, near, far, near_depth, far_depth)
    if seam.leaf_mm is not None:
        _paint_leaf(strip, seam, far_depth)
    for along, lean, length in lint:
        paint_lint(strip, *_to_card(seam, along, 0.3), lean, length, near_depth)
    if card is not None:
        paint_card(strip, card)


def _materials(seam: Seam) -> tuple[m.Material, m.Material]:
    panel = (m.GLASS_BORDER if seam.panel == "dark" else m.GLASS_LIGHT_BORDER).times(seam.panel_light)
    housing = m.HOUSING.times(seam.housing_light)
    return (panel, housing) if seam.card_on == "panel" else (housing, panel)


def _across(seam: Seam, area: Area) -> tuple[np.ndarray, np.ndarray]:
    return m.turned(area.x, area.y, 0.0, seam.distance_mm, seam.lean_deg)


def _paint_far(strip: Strip, seam: Seam, material: m.Material, depth: float) -> None:
    """What lies beyond the seam, with its outer edge on the bench when it is the housing."""
    outer = BEZEL_MM if seam.card_on == "panel" else 80.0
    box = (-90.0, seam.distance_mm - 6, 90.0, seam.distance_mm + outer + 8)
    ground = strip.area(depth + BODY_MM, box, margin=20)
    if ground is not None:

        def body(x: np.ndarray, y: np.ndarray) -> np.ndarray:
            return m.turned(x, y, 0.0, seam.distance_mm, seam.lean_deg)[1] - np.float32(outer)

        ground.cast(body, BODY_MM * 0.5, soft=1.0)
        side = np.clip(1 + body(ground.x, ground.y) / np.float32(3), 0.25, 1)
        ground.paint(ground.cover(body(ground.x, ground.y)), side * planes(material.times(0.5).colour))
    area = strip.area(depth, box)
    if area is None:
        return
    _, across = _across(seam, area)
    distance = across - np.float32(outer)
    area.paint(area.cover(distance), material.on(area), material.gloss)
    area.round_edge(distance, 1.6, 0.45)
    if seam.card_on == "panel":
        groove = np.abs(across - np.float32(outer - 3.2)) - np.float32(0.18)
        area.shade(1 - 0.35 * area.cover(groove, soft=0.15))
        for along_screw in (-38.0, 34.0):
            paint_screw(strip, *_to_card(seam, along_screw, 5.2), depth, turn_deg=along_screw)
        if abs(seam.lean_deg) < 1.0:
            at = _to_card(seam, -9.0, 6.2)
            paint_words(strip, "OSSMERE H7", *at, 1.9, depth, (0.42, 0.42, 0.41), 0.8)


def _paint_near(strip: Strip, seam: Seam, material: m.Material, depth: float) -> None:
    box = (-90.0, seam.distance_mm - 120, 90.0, seam.distance_mm + 5)
    area = strip.area(depth, box)
    if area is None:
        return
    _, across = _across(seam, area)
    area.paint(area.cover(across), material.on(area), material.gloss)
    if seam.card_on == "panel":
        share = area.cover(across + np.float32(9.0), soft=0.08)
        area.paint(share, m.DISPLAY.on(area), m.DISPLAY.gloss)


def _paint_gap(
    strip: Strip,
    seam: Seam,
    shape: Shape,
    near: m.Material,
    far: m.Material,
    near_depth: float,
    far_depth: float,
) -> None:
    """The band around the gap, composed exactly: the shares of the two sides and of
    the gap between them add up to one, the nearer side hiding the farther."""
    reach = 1.2 + float(shape.width.max())
    lean = abs(np.sin(np.radians(seam.lean_deg))) * 75
    box = (-90.0, seam.distance_mm - reach - lean, 90.0, seam.distance_mm + reach + lean)
    low = strip.area(near_depth, box)
    if low is None:
        return
    high = low.on_plane(far_depth)
    along_n, across_n = _across(seam, low)
    along_f, across_f = _across(seam, high)
    band = np.abs(across_n) < reach
    near_edge, _, width = shape.edges(along_n)
    _, far_edge, _ = shape.edges(along_f)
    near_distance, far_distance = across_n - near_edge, far_edge - across_f
    near_share, far_share = low.cover(near_distance), high.cover(far_distance)
    if near_depth <= far_depth:
        far_share = np.minimum(far_share, 1 - near_share)
    else:
        near_share = np.minimum(near_share, 1 - far_share)

    near_colour, far_colour = near.on(low), far.on(high)
    panel_is_near = seam.card_on == "panel"
    for colour, distance, area, is_panel in (
        (near_colour, near_distance, low, panel_is_near),
        (far_colour, far_distance, high, not panel_is_near),
    ):
        if is_panel and seam.chamfer_mm:
            start = np.float32(seam.chamfer_start_mm)
            ridge = area.cover(-distance - start - np.float32(seam.chamfer_mm))
            if start:
                ridge -= area.cover(-distance - start)
            colour += ridge * np.float32(seam.chamfer_light)
        elif not is_panel:
            rounding = np.clip(1 + distance / np.float32(0.15), 0, 1)
            colour *= 1 - 0.12 * rounding

    gap = _gap_light(strip, seam, near, far, near_distance, far_distance, width, low)
    low.compose(band, [(near_share, near_colour, near.gloss), (far_share, far_colour, far.gloss)], gap)


def _gap_light(
    strip: Strip,
    seam: Seam,
    near: m.Material,
    far: m.Material,
    near_distance: np.ndarray,
    far_distance: np.ndarray,
    width: np.ndarray,
    area: Area,
) -> np.ndarray:
    """Light from inside the gap: dark below, a little brighter at the top of the wall
    that the line of sight meets."""
    lean = np.radians(lean_across(seam, strip.view, 0.5))
    slope = np.float32(max(1e-3, abs(np.tan(lean))))
    to_wall, wall = (far_distance, far) if lean > 0 else (near_distance, near)
    below = np.maximum(np.abs(to_wall), 0) / slope
    fading = np.exp(-np.minimum(below, GAP_DEPTH_MM) / (0.5 * width + np.float32(0.02)))
    tint = planes(wall.colour) + np.float32(0.02 * wall.gloss)
    return np.float32(seam.gap_light) + (np.float32(seam.wall_light) * fading) * tint


def _paint_leaf(strip: Strip, seam: Seam, depth: float) -> None:
    """A feeler gauge leaf pushed into the gap, its free end lying over the housing."""
    half = 6.35
    x, y = _to_card(seam, 16.0, 0.0)
    box = (x - half, y, x + half, y + 60)

    def outline(px: np.ndarray, py: np.ndarray) -> np.ndarray:
        return m.rectangle(px, py, box)

    ground = strip.area(depth, box, margin=4)
    if ground is not None:
        ground.cast(outline, 0.8, soft=0.3)
    area = strip.area(depth - 0.4, box, margin=0.2)
    if area is not None:
        distance = outline(area.x, area.y)
        area.paint(area.cover(distance), m.STEEL.on(area), m.STEEL.gloss)
        bend = np.exp(-np.maximum(area.y - np.float32(y), 0) / 1.2)
        area.shade(1 - 0.5 * bend * area.cover(distance))
        area.round_edge(distance, 0.15, 0.3)
    words = f"{seam.leaf_mm:.2f} mm"
    paint_words(strip, words, x - 5.2, y + 17.0, 2.2, depth - 0.4, (0.06, 0.06, 0.06), 0.85)


def _to_card(seam: Seam, along: float, across: float) -> tuple[float, float]:
    """Card coordinates of seam coordinates."""
    cosine, sine = np.cos(np.radians(seam.lean_deg)), np.sin(np.radians(seam.lean_deg))
    x, y = along * cosine - across * sine, seam.distance_mm + along * sine + across * cosine
    return float(x), float(y)


def lean_across(seam: Seam, view: View, depth: float) -> float:
    """By how much the line of sight leans across the seam at its middle, degrees;
    positive when it goes away from the card."""
    ray = np.array([0.0, seam.distance_mm, depth]) - view.position
    cosine, sine = np.cos(np.radians(seam.lean_deg)), np.sin(np.radians(seam.lean_deg))
    return float(np.degrees(np.arctan2(ray[1] * cosine - ray[0] * sine, ray[2])))
