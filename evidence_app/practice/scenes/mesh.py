"""An acoustic mesh strip in its opening in the Ossmere H7's housing.

The opening and the strip have fully rounded ends. ``along`` runs with the
opening's long axis, ``across`` at right angles to it, away from the card; both
are 0 in the middle of the opening.
"""

import numpy as np
from msgspec import Struct

from evidence_app.practice.scenes.canvas import Area, Strip, around
from evidence_app.practice.scenes.card import CardTruth, paint_card
from evidence_app.practice.scenes.material import HOUSING, Material, Outline, far, turned
from evidence_app.practice.scenes.parts import (
    paint_bench,
    paint_housing,
    paint_recess,
    paint_screw,
    paint_words,
)

BODY_MM = 14.0
EDGE_MM = 31.0  # the housing's outer edge, from the card's middle


class Mesh(Struct, frozen=True, kw_only=True):
    """The strip as it lies. Lengths in mm; ``recess_mm`` is how far its face lies
    below the housing, ``ledge_mm`` how far the ledge lies below its face.
    Offsets are of the strip's middle, ``rotation_deg`` turns it from x to y."""

    opening_length_mm: float = 26.0
    opening_width_mm: float = 5.0
    strip_length_mm: float = 25.0
    strip_width_mm: float = 4.1
    offset_along_mm: float = 0.0
    offset_across_mm: float = 0.0
    rotation_deg: float = 0.0
    recess_mm: float = 0.3
    ledge_mm: float = 0.15
    x_mm: float = 0.0
    y_mm: float = 23.0
    lean_deg: float = 0.0
    pitch_mm: float = 0.5
    hole_mm: float = 0.27
    margin_mm: float = 0.45  # of the strip's edge, without holes
    strip_light: float = 1.0
    ledge_light: float = 1.0
    housing_light: float = 1.0


_STRIP = Material((0.135, 0.140, 0.145), "fine", 0.06, 0.04, 0.35)
_LEDGE = Material((0.045, 0.042, 0.040), "plastic", 0.08, 0.05, 0.12)


def paint_mesh(strip: Strip, mesh: Mesh, card: CardTruth | None) -> None:
    depth = card.thickness_mm if card else 0.5
    paint_bench(strip, depth + BODY_MM)
    housing = HOUSING.times(mesh.housing_light)
    paint_housing(strip, depth, EDGE_MM, housing)
    opening = _stadium(mesh.x_mm, mesh.y_mm, mesh.lean_deg, mesh.opening_length_mm, mesh.opening_width_mm)
    paint_recess(
        strip,
        around(mesh.x_mm, mesh.y_mm, mesh.opening_length_mm / 2 + 0.5, mesh.opening_width_mm / 2 + 1.5),
        depth,
        mesh.recess_mm + mesh.ledge_mm,
        opening,
        housing,
        lambda ground: _floor(ground, mesh, depth),
    )
    for side in (-1, 1):
        x = mesh.x_mm + side * (mesh.opening_length_mm / 2 + 5.5)
        paint_screw(strip, x, mesh.y_mm + 0.4, depth, turn_deg=33 * side)
    paint_words(strip, "MIC", mesh.x_mm - 1.8, mesh.y_mm + 6.3, 1.5, depth, (0.42, 0.42, 0.41), 0.8)
    if card is not None:
        paint_card(strip, card)


def _floor(ground: Area, mesh: Mesh, depth: float) -> tuple[np.ndarray, float]:
    """The ledge with the strip lying over it."""
    colour = _LEDGE.times(mesh.ledge_light).on(ground)
    face = ground.on_plane(depth + mesh.recess_mm)
    axis = np.radians(mesh.lean_deg)
    x = mesh.x_mm + mesh.offset_along_mm * np.cos(axis) - mesh.offset_across_mm * np.sin(axis)
    y = mesh.y_mm + mesh.offset_along_mm * np.sin(axis) + mesh.offset_across_mm * np.cos(axis)
    lean = mesh.lean_deg + mesh.rotation_deg
    outline = _stadium(x, y, lean, mesh.strip_length_mm, mesh.strip_width_mm)
    fall = ground.light.fall
    cast = outline(
        ground.x - np.float32(fall[0] * mesh.ledge_mm), ground.y - np.float32(fall[1] * mesh.ledge_mm)
    )
    colour *= 1 - 0.5 * np.clip(0.5 - cast / np.float32(0.12), 0, 1)

    distance = outline(face.x, face.y)
    metal = _STRIP.times(mesh.strip_light).on(face)
    along, across = turned(face.x, face.y, x, y, lean)
    holes = _holes(along, across, mesh.pitch_mm) - np.float32(mesh.hole_mm / 2)
    inside = face.cover(distance + np.float32(mesh.margin_mm))
    metal *= 1 - 0.88 * face.cover(holes, soft=0.03) * inside
    edge = np.exp(-np.square((distance + np.float32(0.04)) / np.float32(0.04)))
    metal *= 1 + 0.25 * edge
    share = face.cover(distance)
    return colour + share * (metal - colour), 0.25


def _holes(along: np.ndarray, across: np.ndarray, pitch: float) -> np.ndarray:
    """Distance to the nearest middle of a hexagonal pattern of holes."""
    row = pitch * np.float32(np.sqrt(3))

    def nearest(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        da = a - np.round(a / np.float32(pitch)) * np.float32(pitch)
        db = b - np.round(b / row) * row
        return da * da + db * db

    shifted = nearest(along - np.float32(pitch / 2), across - row / 2)
    return np.sqrt(np.minimum(nearest(along, across), shifted))


def _stadium(x: float, y: float, lean_deg: float, length: float, width: float) -> Outline:
    """Signed distance to a strip with fully rounded ends."""
    half = np.float32((length - width) / 2)

    def distance(px: np.ndarray, py: np.ndarray) -> np.ndarray:
        along, across = turned(px, py, x, y, lean_deg)
        return far(np.maximum(np.abs(along) - half, 0), across) - np.float32(width / 2)

    return distance
