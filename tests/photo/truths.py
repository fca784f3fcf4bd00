"""What is really there on a practice photo, from the things that were painted; mm of the card."""

from __future__ import annotations

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.practice.optics import View
from evidence_app.practice.scenes.card import CardTruth
from evidence_app.practice.scenes.mesh import Mesh
from evidence_app.practice.scenes.scenes import Scene
from evidence_app.practice.scenes.seam import Seam, Shape, depths, lean_across
from evidence_app.practice.scenes.slot import Spot


def jpeg_of(scene: Scene) -> bytes:
    """The picture as a camera's JPEG file would hold it, without Exif."""
    quality = [cv2.IMWRITE_JPEG_QUALITY, scene.conditions.jpeg_quality]
    return cv2.imencode(".jpg", scene.picture, quality)[1].tobytes()


class SeamTruth(Struct, frozen=True, eq=False):
    """What is really there. ``along_mm`` (N,) are stations every 0.05 mm, ``width_mm``
    (N,) the gap at each. ``lean_across_deg`` is by how much the line of sight leans
    across the seam at ``along`` = 0."""

    seam: Seam
    card: CardTruth | None
    view: View
    along_mm: np.ndarray
    width_mm: np.ndarray
    lean_across_deg: float


class MeshTruth(Struct, frozen=True, eq=False):
    """``clearance_mm`` names what is left between strip and opening: at the ``start``
    and ``end`` along the axis (between the outermost points), and on the ``near`` and
    ``far`` side across it, at the middle of the opening. ``lean_along_deg`` and
    ``lean_across_deg`` tell how the line of sight leans at the middle."""

    mesh: Mesh
    card: CardTruth | None
    view: View
    offset_along_mm: float
    offset_across_mm: float
    rotation_deg: float
    clearance_mm: dict[str, float]
    lean_along_deg: float
    lean_across_deg: float


def truth_of(scene: Scene):
    """The truth of a seam's or a mesh's photo."""
    known = _of_seam if isinstance(scene.painted[0], Seam) else _of_mesh
    return known(scene.view, *scene.painted)


def area_mm2(spot: Spot) -> float:
    """Area inside a polar curve: half the integral of the squared radius."""
    return float(np.pi * spot.radius_mm**2 * (1 + sum(lobe**2 for lobe in spot.lobes) / 2))


def _of_seam(view: View, seam: Seam, shape: Shape, card: CardTruth | None, _lint) -> SeamTruth:
    keep = np.abs(shape.along) <= 52
    return SeamTruth(
        seam=seam,
        card=card,
        view=view,
        along_mm=shape.along[keep],
        width_mm=shape.width[keep],
        lean_across_deg=lean_across(seam, view, depths(seam, card)[0]),
    )


def _of_mesh(view: View, mesh: Mesh, card: CardTruth | None) -> MeshTruth:
    turn = np.radians(mesh.rotation_deg)
    radius = mesh.strip_width_mm / 2
    half = (mesh.strip_length_mm / 2 - radius) * np.cos(turn) + radius
    middle = mesh.offset_across_mm - mesh.offset_along_mm * np.tan(turn)
    thick = radius / np.cos(turn)
    rim = card.thickness_mm if card else 0.5
    ray = np.array([mesh.x_mm, mesh.y_mm, rim]) - view.position
    axis = np.radians(mesh.lean_deg)
    along = ray[0] * np.cos(axis) + ray[1] * np.sin(axis)
    across = ray[1] * np.cos(axis) - ray[0] * np.sin(axis)
    return MeshTruth(
        mesh=mesh,
        card=card,
        view=view,
        offset_along_mm=mesh.offset_along_mm,
        offset_across_mm=mesh.offset_across_mm,
        rotation_deg=mesh.rotation_deg,
        clearance_mm={
            "start": float(mesh.opening_length_mm / 2 + mesh.offset_along_mm - half),
            "end": float(mesh.opening_length_mm / 2 - mesh.offset_along_mm - half),
            "near": float(mesh.opening_width_mm / 2 + middle - thick),
            "far": float(mesh.opening_width_mm / 2 - middle - thick),
        },
        lean_along_deg=float(np.degrees(np.arctan2(along, ray[2]))),
        lean_across_deg=float(np.degrees(np.arctan2(across, ray[2]))),
    )
