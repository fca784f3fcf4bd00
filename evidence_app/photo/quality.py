"""Whether a photo is good enough to be looked at, check by check.

The whole gate costs little more than a small preview: the brightness channel is
decoded once; exposure and glare are judged on a quarter-size copy, sharpness on
small full-size tiles (see sharpness.py). A failing check never forbids a photo:
the technician may keep it with a stated reason.
"""

from __future__ import annotations

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.photo import intake, sharpness

LEAST_MEGAPIXELS = 1.0
# 10 to 90 percent rise of the sharpest edges; a Gaussian's rise is 2.563 times its
# standard deviation. Given for a picture 4000 pixels on its long side.
LONGEST_RISE = 3.3
LONGEST_SMEAR = 4.5
MOST_SHADOW = 0.45
MOST_HIGHLIGHT = 0.12
MOST_GLARE = 0.02

_RISE_PER_SPREAD = 2.563
_BLACK, _WHITE = 4, 251


class Check(Struct, frozen=True):
    """One judged quantity: ``holds`` when ``value`` keeps to ``limit``."""

    name: str
    value: float
    limit: float
    unit: str
    holds: bool
    sentence: str


class Judgement(Struct, frozen=True):
    passes: bool
    checks: tuple[Check, ...]


def judge(data: bytes, wanted_scale_card: bool = False) -> Judgement:
    """All checks of a photo's bytes. Raises PhotoError when it is no photo."""
    luma = intake.decode_luma(data)
    quarter = cv2.resize(luma, (max(1, luma.shape[1] // 4), max(1, luma.shape[0] // 4)),
                         interpolation=cv2.INTER_AREA)
    spread = sharpness.edge_spread(luma, quarter)
    checks = (
        _size(luma.shape),
        _focus(spread, max(luma.shape)),
        _motion(spread, max(luma.shape)),
        _shadows(quarter),
        _highlights(quarter),
        _glare(quarter),
    )
    return Judgement(passes=all(check.holds for check in checks), checks=checks)


def _size(shape: tuple[int, ...]) -> Check:
    megapixels = shape[0] * shape[1] / 1e6
    return _at_least("size", megapixels, LEAST_MEGAPIXELS, "megapixels",
                     "The picture is large enough.",
                     "Set the camera to a larger picture size and take it again.")


def _focus(spread: sharpness.EdgeSpread, side: int) -> Check:
    limit = LONGEST_RISE * _pixels_per_limit(side)
    if spread.sharpest is None:
        return Check("focus", 0.0, limit, "px edge rise", False,
                     "No sharp edge was found: tap to focus on the part, or move back until it "
                     "is sharp, and take it again.")
    return _at_most("focus", spread.sharpest * _RISE_PER_SPREAD, limit, "px edge rise",
                    "The edges are sharp.",
                    "Tap to focus on the part, or move back until it is sharp, and take it again.")


def _motion(spread: sharpness.EdgeSpread, side: int) -> Check:
    limit = LONGEST_SMEAR * _pixels_per_limit(side)
    return _at_most("motion", spread.smear or 0.0, limit, "px smear",
                    "No motion is seen.",
                    "Hold still or brace the camera and take it again.")


def _shadows(quarter: np.ndarray) -> Check:
    return _at_most("shadows", _share(quarter <= _BLACK), MOST_SHADOW, "share of picture",
                    "The dark parts keep their detail.",
                    "Bring more light onto the part and take it again.")


def _highlights(quarter: np.ndarray) -> Check:
    return _at_most("highlights", _share(quarter >= _WHITE), MOST_HIGHLIGHT, "share of picture",
                    "The bright parts keep their detail.",
                    "Lower the exposure or soften the light and take it again.")


def _glare(quarter: np.ndarray) -> Check:
    side = 8
    rows, columns = quarter.shape[0] // side, quarter.shape[1] // side
    tiles = quarter[: rows * side, : columns * side].reshape(rows, side, columns, side)
    blind = tiles.min(axis=(1, 3)) >= _WHITE
    weight = _middle_weight(rows, columns)
    value = float((blind * weight).sum() / weight.sum()) if blind.size else 0.0
    return _at_most("glare", value, MOST_GLARE, "share of picture, middle counts most",
                    "No glare hides the part.",
                    "Tilt the camera or shade the lamp so that the bright spot leaves the part, "
                    "and take it again.")


def _middle_weight(rows: int, columns: int) -> np.ndarray:
    """1 in the middle of the picture, falling to 0.2 at its border."""
    y = 1 - np.abs(np.linspace(-1, 1, rows))[:, None] ** 2
    x = 1 - np.abs(np.linspace(-1, 1, columns))[None, :] ** 2
    return 0.2 + 0.8 * y * x


def _pixels_per_limit(side: int) -> float:
    return max(side, 3000) / 4000


def _share(mask: np.ndarray) -> float:
    return float(np.count_nonzero(mask) / mask.size)


def _at_most(name: str, value: float, limit: float, unit: str, good: str, bad: str) -> Check:
    holds = value <= limit
    return Check(name, round(value, 4), limit, unit, holds, good if holds else bad)


def _at_least(name: str, value: float, limit: float, unit: str, good: str, bad: str) -> Check:
    holds = value >= limit
    return Check(name, round(value, 4), limit, unit, holds, good if holds else bad)
