"""What only looks like a seam, for trying that no width is given on it; painted by the practice
renderer over the seam. ``decoy?decoy=pen&seed=921`` is a scene by name, with the keys of ``seam``."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from evidence_app.practice.scenes import named
from evidence_app.practice.scenes.card import paint_card
from evidence_app.practice.scenes.parts import paint_lint, paint_words
from evidence_app.practice.scenes.scenes import Scene, seam_scene
from evidence_app.practice.scenes.seam import Seam, _across, _materials, _to_card, depths, paint_seam


def _cable(strip, area, seam, shape, along, across, depth) -> None:
    bend = np.float32(1.1) * np.sin(along / np.float32(9)) + np.float32(0.06) * along
    round_ = across - bend
    area.shade(1 - 0.45 * np.exp(-np.square((round_ - np.float32(0.9)) / np.float32(0.8))))
    area.paint(area.cover(np.abs(round_) - np.float32(0.7)), (0.02, 0.02, 0.02), 0.4)
    area.paint(
        0.5 * np.exp(-np.square((round_ + np.float32(0.25)) / np.float32(0.15))) * (np.abs(round_) < 0.7),
        (0.18, 0.18, 0.18),
    )


def _shadow(strip, area, seam, shape, along, across, depth) -> None:
    edge = np.clip(0.5 + across / np.float32(0.9), 0, 1)
    area.shade(1 - 0.5 * edge * area.cover(np.abs(across) - np.float32(5.0)))


def _scratch(strip, area, seam, shape, along, across, depth) -> None:
    wander = np.interp(along, shape.along, 25 * shape.middle).astype(np.float32)
    broken = np.interp(along, shape.along, shape.width).astype(np.float32)
    depth_of = np.clip(4 * np.sin(along / np.float32(2.7) + 40 * broken), 0, 1)
    line = area.cover(np.abs(across - wander) - np.float32(0.04))
    area.paint(0.7 * line * depth_of, (0.30, 0.30, 0.30), 0.2)


def _pen(strip, area, seam, shape, along, across, depth) -> None:
    first, last, _ = shape.edges(along)
    line = area.cover(np.maximum(first - across, across - last), soft=0.02)
    area.paint(line, (seam.gap_light,) * 3, 0.2)


def _words(strip, area, seam, shape, along, across, depth) -> None:
    paint_words(
        strip,
        "KEEP CLEAR OF THE SEAL WHEN THE COVER IS OFF",
        -44.0,
        seam.distance_mm + 0.8,
        1.7,
        depth,
        (0.30, 0.31, 0.31),
        0.9,
    )


def _nothing(strip, area, seam, shape, along, across, depth) -> None:
    """The bare surface."""


DECOYS = {
    "cable": _cable,
    "shadow": _shadow,
    "scratch": _scratch,
    "words": _words,
    "pen": _pen,
    "nothing": _nothing,
}


def decoy(name: str) -> Callable[..., None]:
    """Paints ``seam_scene``'s things with a decoy in place of the seam."""
    return partial(_paint_decoy, DECOYS[name])


def _paint_decoy(paint, strip, seam, shape, card, lint) -> None:
    """One unbroken surface with something on it that is not a seam."""
    depth, _ = depths(seam, card)
    assert depth == depths(seam, None)[0], "the seam below is painted without its card"
    paint_seam(strip, seam, shape, None, [])
    area = strip.area(depth, (-90.0, seam.distance_mm - 8, 90.0, seam.distance_mm + 8))
    if area is not None:
        along, across = _across(seam, area)
        near, _ = _materials(seam)
        area.paint(area.cover(np.abs(across) - np.float32(5.0)), near.on(area), near.gloss)
        paint(strip, area, seam, shape, along, across, depth)
    for at, lean, length in lint:
        paint_lint(strip, *_to_card(seam, at, 0.3), lean, length, depth)
    if card is not None:
        paint_card(strip, card)


def _named(keys: named.Keys, common: named.Common) -> Scene:
    paint = decoy(keys.pop("decoy"))
    seam = named._take(keys, Seam, gap_mm="width_mm")
    conditions, card = named._ready(keys, common)
    return seam_scene(common.seed, seam, conditions, card, common.take, paint)


named._MAKERS["decoy"] = _named
