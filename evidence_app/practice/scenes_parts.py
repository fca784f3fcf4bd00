"""Small things that several scenes show: the bench, screws, printed words, lint."""

from __future__ import annotations

import numpy as np

from evidence_app.practice.scenes_canvas import Box, Colour, Strip
from evidence_app.practice.scenes_card import lay_text, text_ink
from evidence_app.practice.scenes_material import (
    DARK_STEEL,
    INK,
    MAT,
    Material,
    circle,
    rectangle,
    turned,
)


def paint_bench(strip: Strip, depth: float) -> None:
    """The static-dissipative mat with its printed 10 mm grid."""
    area = strip.area(depth)
    area.paint(np.float32(1), MAT.on(area), MAT.gloss)
    for across in (area.x, area.y):
        to_line = np.abs(np.mod(across + 5, np.float32(25)) - 5) - np.float32(0.12)
        area.paint(0.35 * area.cover(to_line, soft=0.05), (0.20, 0.19, 0.12))


def paint_slab(strip: Strip, box: Box, depth: float, height: float, material: Material,
               radius: float = 1.0, rounded: float = 0.6) -> None:
    """A block whose top lies at ``depth``, standing ``height`` mm on what is below."""

    def outline(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return rectangle(x, y, box, radius)

    ground = strip.area(depth + height, box, margin=2.5 * height + 2)
    if ground is not None:
        ground.cast(outline, height, soft=0.4)
        ground.paint(ground.cover(outline(ground.x, ground.y)),
                     tuple(0.45 * c for c in material.colour))
    top = strip.area(depth, box, margin=0.2)
    if top is not None:
        distance = outline(top.x, top.y)
        top.paint(top.cover(distance), material.on(top), material.gloss)
        top.round_edge(distance, rounded, 0.35)


def paint_recess(strip: Strip, box: Box, depth: float, below: float, floor: Material,
                 radius: float = 1.0) -> None:
    """A pocket sunk ``below`` mm into the surface at ``depth``, with walls and shade."""
    top = strip.area(depth, box, margin=0.2)
    if top is None:
        return
    floor_area = top.on_plane(depth + below)
    opening = rectangle(top.x, top.y, box, radius)
    at_floor = rectangle(floor_area.x, floor_area.y, box, radius)
    colour = floor.on(floor_area)
    fall = strip.light.fall
    lit = rectangle(floor_area.x - np.float32(fall[0] * below),
                    floor_area.y - np.float32(fall[1] * below), box, radius)
    shadow = 1 - (1 - strip.light.shadow) * np.clip(0.5 + lit / np.float32(0.3 + 0.6 * below), 0, 1)
    corner = 1 - 0.35 * np.exp(np.minimum(at_floor, 0) / np.float32(0.35 * below + 0.05))
    wall = np.clip(0.5 + at_floor / np.float32(top.pixel), 0, 1)
    colour = colour * ((shadow * corner) * (1 - 0.45 * wall))[..., None]
    top.paint(top.cover(opening), colour, floor.gloss)
    rim = np.exp(-np.square(opening / np.float32(0.12)))
    down, across = np.gradient(opening, np.float32(top.pixel))
    facing = across * np.float32(fall[0]) + down * np.float32(fall[1])
    top.shade(1 + 0.3 * np.clip(facing, -1, 1) * rim)


def paint_screw(strip: Strip, x: float, y: float, depth: float, turn_deg: float = 20.0,
                radius: float = 1.7) -> None:
    """A six-lobe screw head in its counterbore."""
    hole = radius + 0.55
    paint_recess(strip, (x - hole, y - hole, x + hole, y + hole), depth, 0.5,
                 Material((0.05, 0.045, 0.04), "plastic", 0.05, 0.05, 0.1), radius=hole)
    head = strip.area(depth + 0.3, (x - radius, y - radius, x + radius, y + radius), margin=0.1)
    if head is None:
        return
    distance = circle(head.x, head.y, x, y, radius)
    head.paint(head.cover(distance), DARK_STEEL.times(2.2).on(head), 0.9)
    head.round_edge(distance, 0.35, 0.6)
    angle = np.arctan2(head.y - np.float32(y), head.x - np.float32(x))
    lobes = np.float32(0.50 * radius) * (1 + 0.16 * np.cos(6 * (angle - np.radians(turn_deg))))
    drive = np.hypot(head.x - np.float32(x), head.y - np.float32(y)) - lobes
    head.paint(head.cover(drive), (0.012, 0.012, 0.012), 0.1)


def paint_words(strip: Strip, words: str, x: float, y: float, height: float, depth: float,
                colour: Colour = INK, strength: float = 1.0) -> None:
    """A printed line whose base line begins at (x, y)."""
    ink = text_ink(words, height)
    width = ink.shape[1] / 24
    area = strip.area(depth, (x, y - height, x + width, y + 0.6 * height))
    if area is not None:
        share = lay_text(ink, area, x, y - height)
        area.paint(strength * share, colour, 0.2)


def paint_lint(strip: Strip, x: float, y: float, degrees: float, length: float,
               depth: float) -> None:
    """A pale fibre, slightly bent, lying on a surface."""
    area = strip.area(depth, (x - length, y - length, x + length, y + length))
    if area is None:
        return
    along, across = turned(area.x, area.y, x, y, degrees)
    bent = across - np.float32(0.15 / length) * along * along
    fibre = np.maximum(np.abs(bent) - np.float32(0.018), np.abs(along) - np.float32(length / 2))
    area.paint(0.55 * area.cover(fibre), (0.45, 0.45, 0.45))
