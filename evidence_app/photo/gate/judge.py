"""Whether a photo is good enough to be looked at, check by check.

The whole gate costs little more than a small preview: the brightness channel is
decoded once, reduced when it is large; sharpness is judged on small tiles of it (see
sharpness.py), exposure and glare on a smaller copy. Lengths are given in
pixels of the photo. A failing check never forbids a photo: the technician may keep
it with a stated reason.
"""

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.language import mark
from evidence_app.photo import intake
from evidence_app.photo.card.seen import mm_per_pixel, see_card
from evidence_app.photo.gate import exposure, sharpness
from evidence_app.photo.gate.check import Check, at_least, at_most
from evidence_app.sentence import Sentence, sentence

LEAST_MEGAPIXELS = 1.0
# 10 to 90 percent rise of the edges in their softest direction (a Gaussian's rise is
# 2.563 times its standard deviation), and length of a shake, in pixels of a photo of up
# to 4000 pixels on its long side; in proportion above. Set on practice scenes of the
# tuning seeds: good ones reach a rise of 2.9, a blur or shake of 6 pixels begins at 3.6.
# The rise tells them apart. The smear is the difference of two measurements and less
# sure: good ones with few edges reach 3.9, so its limit keeps well above.
LONGEST_RISE = 3.05
LONGEST_SMEAR = 4.0
# The rise on the scale card, in mm, that is never too long: that limit seen from where 104 mm
# fill a picture of 4000 pixels. Who goes nearer need not be sharper on the part.
LONGEST_RISE_MM = 0.0793
# From here on a photo that is too soft was rather shaken than out of focus.
_LIKELY_SHAKE = 3.1

NO_EDGES = 99.0  # value of the focus check where there is nothing to judge it by

RISE_UNIT = mark("px edge rise")
RISE_UNIT_ON_CARD = mark("mm edge rise on the scale card")
# Sharpness is judged on a copy reduced, by the decoder, to at most this many pixels on
# the long side. In pixels of that copy the re-blurs of a whole photo are larger, since
# its edges are.
_WIDEST_LOOKED_AT = 3000
_REBLURS_WHOLE, _REBLURS_REDUCED = (1.0, 2.0, 3.0), (0.5, 1.0, 1.5)


class Judgement(Struct, frozen=True):
    passes: bool
    checks: tuple[Check, ...]


def judge(data: bytes, wanted_scale_card: bool = False) -> Judgement:
    """All checks of a photo's bytes. Raises PhotoError when it is no photo.

    With the scale card wanted, it must be in view; then sharpness is that of its markers'
    edges, in mm, and glare counts most on it and beside it: what is sharp or dark in the
    background does not help.
    """
    header = intake.read_header(data)
    side = max(header.width, header.height)
    scale = next((s for s in intake.SCALES if side <= s * _WIDEST_LOOKED_AT), intake.SCALES[-1])
    luma = intake.decode_luma(data, scale)
    half = halved(luma)
    quarter = halved(half)
    small, reduced = (half, 2) if scale > 1 else (quarter, 4)
    card = see_card(half) if wanted_scale_card else None
    corners = card.corners if card else None
    spread = _spread(luma, quarter, scale, None if corners is None else 2 * corners)
    mm = None if corners is None else mm_per_pixel(corners) / (2 * scale)
    checks = (
        _size(header),
        *((card.check,) if card else ()),
        _focus(spread, side, scale, mm),
        _motion(spread, side, scale),
        exposure.shadows(small),
        exposure.highlights(small),
        exposure.glare(small, None if corners is None else corners * 2 / reduced),
    )
    return Judgement(passes=all(check.holds for check in checks), checks=checks)


def halved(picture: np.ndarray) -> np.ndarray:
    """Half the size, every pixel the mean of four (an odd last row or column is cut off)."""
    rows, columns = picture.shape[0] // 2 * 2, picture.shape[1] // 2 * 2
    if not rows or not columns:
        return picture
    return cv2.resize(picture[:rows, :columns], (columns // 2, rows // 2), interpolation=cv2.INTER_AREA)


def _size(header: intake.PhotoHeader) -> Check:
    megapixels = header.width * header.height / 1e6
    return at_least(
        "size",
        megapixels,
        LEAST_MEGAPIXELS,
        mark("megapixels"),
        sentence("The picture is large enough."),
        sentence("Set the camera to a larger picture size and take it again."),
    )


def _spread(
    luma: np.ndarray, quarter: np.ndarray, scale: int, corners: np.ndarray | None
) -> sharpness.EdgeSpread | None:
    """On the sides of the card's markers where these are seen, else on the best edges of
    the whole picture."""
    reblurs = _REBLURS_WHOLE if scale == 1 else _REBLURS_REDUCED
    if corners is not None:
        sides = (corners + np.roll(corners, 1, axis=1)) / 2
        return sharpness.edge_spread(luma, sharpness.tiles_at(sides.reshape(-1, 2)), reblurs)
    return sharpness.edge_spread(luma, sharpness.best_tiles(halved(quarter)), reblurs)


def _focus(spread: sharpness.EdgeSpread | None, side: int, scale: int, mm_per_pixel: float | None) -> Check:
    limit = LONGEST_RISE * _limit_scale(side)
    again = sentence("Tap to focus on the part, or move back until it is sharp, and take it again.")
    if spread is None:
        said = sentence("No sharp edge was found to judge the focus by. {again}", again=again)
        return no_edges("focus", limit, said)
    if spread.smear * scale > _LIKELY_SHAKE * _limit_scale(side):
        again = sentence("The edges are soft in one direction. Brace the camera and take it again.")
    rise = spread.softest * sharpness.RISE_PER_SPREAD * scale
    if mm_per_pixel is None:
        return at_most("focus", rise, limit, RISE_UNIT, sentence("The edges are sharp."), again)
    return at_most(
        "focus",
        rise * mm_per_pixel,
        round(max(limit * mm_per_pixel, LONGEST_RISE_MM), 4),
        RISE_UNIT_ON_CARD,
        sentence("The scale card's edges are sharp."),
        again,
    )


def no_edges(name: str, limit: float, said: Sentence) -> Check:
    """A check of sharpness where there is nothing to judge it by."""
    return Check(name, NO_EDGES, limit, RISE_UNIT, False, said)


def _motion(spread: sharpness.EdgeSpread | None, side: int, scale: int) -> Check:
    limit = LONGEST_SMEAR * _limit_scale(side)
    return at_most(
        "motion",
        spread.smear * scale if spread else 0.0,
        limit,
        mark("px smear"),
        sentence("No shake is seen."),
        sentence("Hold still or brace the camera and take it again."),
    )


def _limit_scale(side: int) -> float:
    return max(side, 4000) / 4000
