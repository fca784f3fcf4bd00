"""Small things that several scenes show: the bench, screws, printed words, lint."""

from collections.abc import Callable

import numpy as np

from evidence_app.practice.scenes import material as m
from evidence_app.practice.scenes.canvas import Area, Box, Colour, Strip, around, slopes
from evidence_app.practice.scenes.card import lay_text, text_ink


def paint_bench(strip: Strip, depth: float) -> None:
    """The static-dissipative mat with its printed 10 mm grid."""
    area = strip.area(depth)
    if area is None:
        return
    area.paint(np.float32(1), m.MAT.on(area), m.MAT.gloss)
    for across in (area.x, area.y):
        lines = across * np.float32(1 / 25)
        to_line = np.float32(25) * np.abs(lines - np.rint(lines)) - np.float32(0.12)
        area.paint(0.35 * area.cover(to_line, soft=0.05), (0.20, 0.19, 0.12))


def paint_slab(
    strip: Strip,
    box: Box,
    depth: float,
    height: float,
    material: m.Material,
    radius: float = 1.0,
    rounded: float = 0.6,
) -> None:
    """A block whose top lies at ``depth``, standing ``height`` mm on what is below."""

    def outline(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return m.rectangle(x, y, box, radius)

    ground = strip.area(depth + height, box, margin=2.5 * height + 2)
    if ground is not None:
        ground.cast(outline, height, soft=0.4)
        ground.paint(ground.cover(outline(ground.x, ground.y)), material.times(0.45).colour)
    m.lay(strip, box, depth, outline, material, (rounded, 0.35), margin=0.2)


def paint_recess(
    strip: Strip,
    box: Box,
    depth: float,
    below: float,
    outline: m.Outline,
    wall: m.Material,
    floor: Callable[[Area], tuple[np.ndarray, float]],
) -> None:
    """A pocket sunk ``below`` mm into the surface at ``depth``, with walls and shade.

    ``outline`` is the signed distance of its rim, inside ``box``; ``floor`` gives the
    colour (3, H, W) and gloss of the floor on the area that it is handed.
    """
    top = strip.area(depth, box, margin=0.3)
    if top is None:
        return
    ground = top.on_plane(depth + below)
    opening, at_floor = outline(top.x, top.y), outline(ground.x, ground.y)
    colour, gloss = floor(ground)
    fall = strip.light.fall
    lit = outline(ground.x - np.float32(fall[0] * below), ground.y - np.float32(fall[1] * below))
    shadow = (1 - strip.light.shadow) * np.clip(0.5 + lit / np.float32(0.3 + 0.6 * below), 0, 1)
    corner = 0.35 * np.exp(np.minimum(at_floor, 0) / np.float32(0.35 * below + 0.05))
    colour = colour * ((1 - shadow) * (1 - corner))
    # On a wall the way down is as far as the sight line has left the rim behind.
    inward = np.maximum(-opening, 0)
    down = inward / np.maximum(inward + np.maximum(at_floor, 0), np.float32(1e-4))
    side = wall.on(ground) * (0.75 - 0.5 * down)
    hit = ground.cover(-at_floor)
    top.paint(top.cover(opening), colour + hit * (side - colour), gloss)
    rim = np.exp(-np.square(opening / np.float32(0.12)))
    dx, dy = slopes(opening, top.pixel)
    facing = dx * np.float32(fall[0]) + dy * np.float32(fall[1])
    top.shade(1 + 0.25 * np.clip(facing, -1, 1) * rim)


def paint_pocket(
    strip: Strip, box: Box, depth: float, below: float, wall: m.Material, floor: m.Material, radius: float
) -> None:
    """A recess that is a rectangle with rounded corners, and has a plain floor."""
    paint_recess(
        strip,
        box,
        depth,
        below,
        lambda x, y: m.rectangle(x, y, box, radius),
        wall,
        lambda area: (floor.on(area), floor.gloss),
    )


def paint_housing(
    strip: Strip,
    depth: float,
    edge_mm: float,
    material: m.Material,
    offset: tuple[float, float] = (0.0, 0.0),
) -> None:
    """The housing's face up to its outer edge, which lies ``edge_mm`` below the card's middle."""
    box = (-90.0, -90.0, 90.0, edge_mm)
    m.lay(strip, box, depth, lambda _, y: y - np.float32(edge_mm), material, (1.6, 0.45), 1.0, offset)


def paint_screw(
    strip: Strip, x: float, y: float, depth: float, turn_deg: float = 20.0, radius: float = 1.7
) -> None:
    """A six-lobe screw head in its counterbore."""
    hole = radius + 0.55
    dark = m.Material((0.05, 0.045, 0.04), "plastic", 0.05, 0.05, 0.1)
    paint_recess(
        strip,
        around(x, y, hole),
        depth,
        0.5,
        lambda px, py: m.circle(px, py, x, y, hole),
        dark,
        lambda area: (dark.on(area), dark.gloss),
    )
    head = strip.area(depth + 0.3, around(x, y, radius), margin=0.1)
    if head is None:
        return
    distance = m.circle(head.x, head.y, x, y, radius)
    head.paint(head.cover(distance), m.DARK_STEEL.times(2.2).on(head), 0.9)
    head.round_edge(distance, 0.35, 0.6)
    angle = np.arctan2(head.y - np.float32(y), head.x - np.float32(x))
    lobes = np.float32(0.50 * radius) * (1 + 0.16 * np.cos(6 * (angle - np.radians(turn_deg))))
    drive = m.far(head.x - np.float32(x), head.y - np.float32(y)) - lobes
    head.paint(head.cover(drive), (0.012, 0.012, 0.012), 0.1)


def paint_words(
    strip: Strip,
    words: str,
    x: float,
    y: float,
    height: float,
    depth: float,
    colour: Colour = m.INK,
    strength: float = 1.0,
) -> None:
    """A printed line whose base line begins at (x, y)."""
    ink = text_ink(words, height)
    width = ink.shape[1] / 24
    area = strip.area(depth, (x, y - height, x + width, y + 0.6 * height))
    if area is not None:
        share = lay_text(ink, area, x, y - height)
        area.paint(strength * share, colour, 0.2)


def paint_lint(strip: Strip, x: float, y: float, degrees: float, length: float, depth: float) -> None:
    """A pale fibre, slightly bent, lying on a surface."""
    area = strip.area(depth, around(x, y, length))
    if area is None:
        return
    along, across = m.turned(area.x, area.y, x, y, degrees)
    bent = across - np.float32(0.15 / length) * along * along
    fibre = np.maximum(np.abs(bent) - np.float32(0.018), np.abs(along) - np.float32(length / 2))
    area.paint(0.55 * area.cover(fibre), (0.45, 0.45, 0.45))
