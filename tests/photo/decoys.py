"""What only looks like a seam, for trying that no width is given on it; painted by the practice
renderer in place of the seam."""

from __future__ import annotations

import numpy as np

from evidence_app.practice.scenes import seam as seams
from evidence_app.practice.scenes.parts import paint_words


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
seams.DECOYS.update(DECOYS)
