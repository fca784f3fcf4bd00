"""Where the seam is: the straight dark line beside the scale card, found and laid out.

The surface beside the card is rectified, dips in brightness are sought on lines of
every small lean, and the darkest line that most of its length agrees on is followed.
"""

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.card.light import CardLight
from evidence_app.photo.card.pose import Pose, grey_at
from evidence_app.photo.refusal import CannotMeasure

HALF_LENGTH_MM = 44.0
STATION_MM = 0.5
_NEAREST_MM, _FARTHEST_MM = 0.9, 10.0  # from the card's edge
_COLUMN_MM = 0.5
_LEANS = np.radians(np.arange(-3.5, 3.51, 0.25))
# Rows of half a line, rows beside it that must be brighter, and whether the mean of both
# sides is enough (the dark foot of a step, which a narrow gap beside dark glass is).
_SHAPES = (
    (1, 2, False),
    (2, 3, False),
    (3, 4, False),
    (6, 6, False),
    (12, 10, False),
    (20, 16, False),
    (1, 2, True),
)
_POOL = 3  # rows
_STEP_GREY = 0.004  # a dip of twice this (of full scale) counts as seen
_LEAST_AGREEING = 0.7
_MARGIN_PX = 3.0  # the seam must keep this from the picture's border


class Line(Struct, frozen=True):
    """The middle of the seam: y = at + slope * x + bend * x^2, in mm of the card.
    ``side`` is +1 below the card and -1 above it."""

    at: float
    slope: float
    bend: float
    side: int

    def y(self, x: np.ndarray) -> np.ndarray:
        return self.at + self.slope * x + self.bend * x * x

    def point(self, x: np.ndarray, across: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Places at ``across`` mm from the middle line, positive away from the card."""
        lean = np.arctan(self.slope + 2 * self.bend * x)
        out = self.side * across
        return x - np.sin(lean) * out, self.y(x) + np.cos(lean) * out

    @property
    def lean(self) -> float:
        """Against the card's x axis, in radians."""
        return float(np.arctan(self.slope))


def find_seams(luma: np.ndarray, pose: Pose) -> list[Line]:
    """Lines that may be the seam, the likeliest first. Raises CannotMeasure when there
    is none."""
    found = [each for side in (1, -1) for each in _search(luma, pose, side)]
    if not found:
        raise CannotMeasure("seam", "no seam")
    return [line for _, line in sorted(found, key=lambda each: each[0])]


def _search(luma: np.ndarray, pose: Pose, side: int) -> list[tuple[float, Line]]:
    """The darkest line and the darkest foot of a step on one side of the card, each with
    its rank (less is better)."""
    grid = _rectify(luma, pose, side)
    if grid is None:
        return []
    picture, xs, depth, step = grid
    rows, columns = picture.shape
    total = np.vstack([np.zeros((1, columns), np.float32), np.cumsum(picture, axis=0)])
    best: dict[bool, tuple[float, Line]] = {}
    for half, flank, foot in _SHAPES:
        reach = half + 1 + flank
        middle = np.arange(reach, rows - reach)
        if len(middle) < 3 * _POOL:
            continue
        centre = (total[middle + half] - total[middle - half]) / (2 * half)
        before = (total[middle - half - 1] - total[middle - reach]) / flank
        after = (total[middle + reach] - total[middle + half + 1]) / flank
        sides = (before + after) / 2 if foot else np.minimum(before, after)
        dip = sides - centre
        agree = np.clip(dip / (2 * _STEP_GREY), -1, 1)
        # The lines tried are coarse: a dip counts for the places next to it too.
        pooled = cv2.dilate(agree, np.ones((2 * _POOL + 1, 1)))[::_POOL]
        found = _best_line(pooled, xs, step * _POOL, side)
        if found is None:
            continue
        score, row, lean = found
        place = _follow(dip, row * _POOL + np.tan(lean) * side * xs / step)
        at = np.clip(np.rint(place).astype(int), 0, len(middle) - 1)
        dark = float(np.median(centre[at, np.arange(columns)]))
        # Darkest first: a groove or a crease of shadow is never as dark as a gap; the foot
        # of a step only when nothing is a line.
        rank = dark - 0.05 * score + (0.10 if foot else 0.0)
        if foot not in best or rank < best[foot][0]:
            bend, slope, middle_y = _smooth(xs, side * (depth[0] + step * (place + reach - 0.5)))
            best[foot] = (rank, Line(at=float(middle_y), slope=float(slope), bend=float(bend), side=side))
    return list(best.values())


def _best_line(
    agree: np.ndarray, xs: np.ndarray, step: float, side: int
) -> tuple[float, int, float] | None:
    """Share of agreement, row at x = 0 and lean of the straight line that most agrees."""
    best = None
    for lean in _LEANS:
        shift = np.rint(np.tan(lean) * side * xs / step).astype(int)
        usable = np.arange(max(0, -shift.min()), len(agree) - max(0, shift.max()))
        if not len(usable):
            continue
        score = np.take_along_axis(agree, usable[:, None] + shift, axis=0).mean(axis=1)
        row = int(np.argmax(score))
        if score[row] >= _LEAST_AGREEING and (best is None or score[row] > best[0]):
            best = (float(score[row]), int(usable[row]), float(lean))
    return best


def _follow(dip: np.ndarray, place: np.ndarray) -> np.ndarray:
    """The deepest place of each column near a line, between its rows."""
    around = np.arange(-2 * _POOL, 2 * _POOL + 1)
    index = np.clip(np.rint(place).astype(int) + around[:, None], 0, len(dip) - 1)
    near = np.take_along_axis(dip, index, axis=0)
    weight = np.square(np.maximum(near - 0.5 * near.max(axis=0), 0)) + 1e-12
    return (weight * index).sum(axis=0) / weight.sum(axis=0)


def _smooth(xs: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Parabola through most of the points."""
    weight = np.ones_like(y)
    fit = np.zeros(3)
    for _ in range(8):
        fit = np.polyfit(xs, y, 2, w=weight)
        error = np.abs(y - np.polyval(fit, xs))
        weight = 1 / np.maximum(1, (error / (1.5 * np.median(error) + 1e-4)) ** 2)
    return fit


def _rectify(luma: np.ndarray, pose: Pose, side: int):
    """Grey 0 to 1 (rows across, columns along), columns' x, rows' |y| and row step in mm;
    None when that side of the card is hardly in the picture."""
    edge = card_layout().outline.height / 2
    scale = max(pose.pixels_per_mm(0.0, side * (edge + 5)))
    step = 1 / scale
    depth = np.arange(edge + _NEAREST_MM, edge + _FARTHEST_MM, step)
    inner = max(1, round(_COLUMN_MM * scale / 2))
    count = round(2 * HALF_LENGTH_MM / _COLUMN_MM)
    xs = (np.arange(count * inner) + 0.5) * (_COLUMN_MM / inner) - HALF_LENGTH_MM
    u, v = pose.to_pixels(xs[None, :], side * depth[:, None])
    rows = pose.shown(u, v, 1.0).mean(axis=1) > 0.9
    if rows.sum() * step < 2.0:
        return None
    last = len(rows) - int(np.argmax(rows[::-1]))
    u, v, depth = u[:last], v[:last], depth[:last]
    grey = grey_at(luma, u, v).reshape(len(depth), count, inner).mean(axis=2, dtype=np.float32) / 255
    return grey, xs.reshape(count, inner).mean(axis=1), depth, step


class SeamStrip(Struct, frozen=True, eq=False):
    """Profiles across the seam: ``light`` (stations, samples) as reflectance, ``across``
    (samples,) in mm from the line, ``along`` (stations,) in mm; ``blur_mm`` (stations,)
    the standard deviation of the blur; ``white`` (stations,) the share that is clipped."""

    light: np.ndarray
    across: np.ndarray
    along: np.ndarray
    blur_mm: np.ndarray
    white: np.ndarray


def lay_out(luma: np.ndarray, pose: Pose, light: CardLight, line: Line, reach_mm: float) -> SeamStrip:
    """The surface along ``line``, straightened. Raises CannotMeasure when too little of
    it lies in the picture."""
    scale_x, scale_y = pose.pixels_per_mm(0.0, line.at)
    inner = max(2, round(STATION_MM * scale_x))
    count = round(2 * HALF_LENGTH_MM / STATION_MM)
    xs = (np.arange(count * inner) + 0.5) * (STATION_MM / inner) - HALF_LENGTH_MM
    across = np.arange(-reach_mm, reach_mm + 1e-9, 1 / scale_y)
    x, y = line.point(xs[None, :], across[:, None])
    u, v = pose.to_pixels(x, y)
    stations = pose.shown(u, v, _MARGIN_PX).all(axis=0).reshape(count, inner).all(axis=1)
    if stations.mean() < 0.5:
        raise CannotMeasure("seam", "seam outside")
    margin = 12
    top = max(0, int(v.min()) - margin)
    bottom = min(luma.shape[0], int(v.max()) + margin + 2)
    crop = luma[top:bottom]
    linear = light.tone.linear_picture(light.unsharpened(crop))
    map_u, map_v = u.astype(np.float32), (v - top).astype(np.float32)
    seen: np.ndarray = cv2.remap(linear, map_u, map_v, cv2.INTER_LANCZOS4, borderMode=cv2.BORDER_REPLICATE)
    raw = cv2.remap(crop, map_u, map_v, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
    seen /= light.level_at(x, y).astype(np.float32)
    folded = seen.reshape(len(across), count, inner)
    white = (raw >= 253).reshape(len(across), count, inner).mean(axis=(0, 2))
    along = xs.reshape(count, inner).mean(axis=1)
    per_mm = np.array([pose.pixels_per_mm(float(at), float(line.y(at)))[1] for at in along])
    return SeamStrip(
        light=folded.mean(axis=2).T[stations].astype(float),
        across=across,
        along=along[stations],
        blur_mm=(light.edge.blur_at(along) / per_mm)[stations],
        white=white[stations],
    )
