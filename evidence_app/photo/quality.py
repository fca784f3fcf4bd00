"""Whether a photo is good enough to be looked at, check by check.

The whole gate costs little more than a small preview: the brightness channel is
decoded once, reduced when it is large; sharpness is judged on small tiles of it (see
sharpness.py), exposure and glare on a smaller copy. Lengths are given in
pixels of the photo. A failing check never forbids a photo: the technician may keep
it with a stated reason.
"""

from __future__ import annotations

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.photo import intake, sharpness

LEAST_MEGAPIXELS = 1.0
# 10 to 90 percent rise of the edges in their softest direction (a Gaussian's rise is
# 2.563 times its standard deviation), and length of a shake, in pixels of a photo of up
# to 4000 pixels on its long side; in proportion above. Set on practice scenes of the
# tuning seeds: good ones reach 2.5 and 2.6, a blur of 6 pixels begins at 3.3, a shake of
# 6 pixels at 3.6.
LONGEST_RISE = 2.85
LONGEST_SMEAR = 3.1
MOST_SHADOW = 0.3
MOST_HIGHLIGHT = 0.08
MOST_GLARE = 0.02

NO_EDGES = 99.0  # value of the focus check where there is nothing to judge it by

_RISE_UNIT = "px edge rise"
_RISE_PER_SPREAD = 2.563
# Sharpness is judged on a copy reduced, by the decoder, to at most this many pixels on
# the long side. In pixels of that copy the re-blurs of a whole photo are larger, since
# its edges are.
_WIDEST_LOOKED_AT = 3000
_REBLURS_WHOLE, _REBLURS_REDUCED = (1.0, 2.0, 3.0), (0.5, 1.0, 1.5)
# Grey levels: below 0.9 percent of full light a sensor gives noise, above 92 percent the
# tone curve leaves no detail.
_DARK, _WHITE = 24, 246
_LIT = 64  # what a picture must reach somewhere to be lit at all: 5 percent of full light
_LEAST_LIT = 0.02
_GLARE_TILE = 8  # pixels of the small copy


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
    header = intake.read_header(data)
    side = max(header.width, header.height)
    scale = next((s for s in intake.SCALES if side <= s * _WIDEST_LOOKED_AT), intake.SCALES[-1])
    luma = intake.decode_luma(data, scale)
    half = _halved(luma)
    quarter = _halved(half)
    reblurs = _REBLURS_WHOLE if scale == 1 else _REBLURS_REDUCED
    spread = sharpness.edge_spread(luma, _halved(quarter), reblurs)
    exposure = half if scale > 1 else quarter
    checks = (
        _size(header),
        _focus(spread, side, scale),
        _motion(spread, side, scale),
        _shadows(exposure),
        _highlights(exposure),
        _glare(exposure),
    )
    return Judgement(passes=all(check.holds for check in checks), checks=checks)


def _halved(picture: np.ndarray) -> np.ndarray:
    """Half the size, every pixel the mean of four (an odd last row or column is cut off)."""
    rows, columns = picture.shape[0] // 2 * 2, picture.shape[1] // 2 * 2
    if not rows or not columns:
        return picture
    return cv2.resize(picture[:rows, :columns], (columns // 2, rows // 2),
                      interpolation=cv2.INTER_AREA)


def _size(header: intake.PhotoHeader) -> Check:
    megapixels = header.width * header.height / 1e6
    return _at_least("size", megapixels, LEAST_MEGAPIXELS, "megapixels",
                     "The picture is large enough.",
                     "Set the camera to a larger picture size and take it again.")


def _focus(spread: sharpness.EdgeSpread | None, side: int, scale: int) -> Check:
    limit = LONGEST_RISE * _limit_scale(side)
    again = "Tap to focus on the part, or move back until it is sharp, and take it again."
    if spread is None:
        return Check("focus", NO_EDGES, limit, _RISE_UNIT, False,
                     f"No sharp edge was found to judge the focus by. {again}")
    if spread.smear * scale > LONGEST_SMEAR * _limit_scale(side):
        again = "The edges are soft in one direction. Brace the camera and take it again."
    return _at_most("focus", spread.softest * _RISE_PER_SPREAD * scale, limit, _RISE_UNIT,
                    "The edges are sharp.", again)


def _motion(spread: sharpness.EdgeSpread | None, side: int, scale: int) -> Check:
    limit = LONGEST_SMEAR * _limit_scale(side)
    return _at_most("motion", spread.smear * scale if spread else 0.0, limit, "px smear",
                    "No shake is seen.",
                    "Hold still or brace the camera and take it again.")


def _shadows(small: np.ndarray) -> Check:
    """The share that is lost in the dark; all of it when hardly anything is lit."""
    lit = _share(small >= _LIT) >= _LEAST_LIT
    return _at_most("shadows", _share(small < _DARK) if lit else 1.0, MOST_SHADOW,
                    "share of picture",
                    "The dark parts keep their detail.",
                    "Bring more light onto the part and take it again.")


def _highlights(small: np.ndarray) -> Check:
    return _at_most("highlights", _share(small >= _WHITE), MOST_HIGHLIGHT, "share of picture",
                    "The bright parts keep their detail.",
                    "Lower the exposure or soften the light and take it again.")


def _glare(small: np.ndarray) -> Check:
    """Tiles that are white through and through: nothing can be read there any more."""
    rows, columns = small.shape[0] // _GLARE_TILE, small.shape[1] // _GLARE_TILE
    value = 0.0
    if rows and columns:
        white = cv2.compare(small[: rows * _GLARE_TILE, : columns * _GLARE_TILE], _WHITE,
                            cv2.CMP_GE)
        blind = cv2.resize(white, (columns, rows), interpolation=cv2.INTER_AREA) == 255
        weight = _middle_weight(rows, columns)
        value = float(weight[blind].sum() / weight.sum())
    return _at_most("glare", value, MOST_GLARE, "share of picture, middle counts most",
                    "No glare hides the part.",
                    "Tilt the camera or shade the lamp so that the bright spot leaves the part, "
                    "and take it again.")


def _middle_weight(rows: int, columns: int) -> np.ndarray:
    """1 in the middle of the picture, falling to 0.2 at its border."""
    y = 1 - np.abs(np.linspace(-1, 1, rows))[:, None] ** 2
    x = 1 - np.abs(np.linspace(-1, 1, columns))[None, :] ** 2
    return 0.2 + 0.8 * y * x


def _limit_scale(side: int) -> float:
    return max(side, 4000) / 4000


def _share(mask: np.ndarray) -> float:
    return float(np.count_nonzero(mask) / mask.size)


def _at_most(name: str, value: float, limit: float, unit: str, good: str, bad: str) -> Check:
    holds = value <= limit
    return Check(name, round(value, 4), limit, unit, holds, good if holds else bad)


def _at_least(name: str, value: float, limit: float, unit: str, good: str, bad: str) -> Check:
    holds = value >= limit
    return Check(name, round(value, 4), limit, unit, holds, good if holds else bad)
