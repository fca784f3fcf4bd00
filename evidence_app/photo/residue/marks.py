"""Marks in the change of a surface: connected places that stand out of the noise.

A mark must be stronger than the noise around it and must end in a step: shadows fade, what
sticks to a surface does not. Its border is where the change has half of its strength.
"""

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.photo.residue.compare import Change

LEAST_SIZE_MM = 0.3  # diameter of a disc of the same area
TIMES_NOISE = 4.0
LEAST_BRIGHTNESS = 0.07  # of the logarithm
LEAST_COLOUR = 0.06
_NOISE_OVER_MM = 3.0
_LEAST_STEPS = 0.7  # share of the border
_STEP_SHARE = 0.45  # of the mark's strength that must change within _ACROSS_MM
_ACROSS_MM = 0.22
_APART = 7  # pixels that a mark spreads, to be found once
_STRONGEST = 85  # percentile of the change within a mark that stands for its strength


class Mark(Struct, frozen=True, eq=False):
    """Place (mm, in the frame of the reference's card), area and strength of a mark.
    ``brightness`` is its change of luminance against the clean surface (-0.2: 20 percent
    darker), ``colour`` that of red against blue; ``noise`` how often it exceeds the noise.
    ``outline`` (N, 2) is its border in mm."""

    x: float
    y: float
    area_mm2: float
    brightness: float
    colour: float
    noise: float
    outline: np.ndarray

    @property
    def diameter_mm(self) -> float:
        return float(2 * np.sqrt(self.area_mm2 / np.pi))


class Found(Struct, frozen=True, eq=False):
    """``least_brightness`` is the change that a mark of 0.5 mm needs to be found, as a median
    over what was judged."""

    marks: list[Mark]
    least_brightness: float


def find_marks(change: Change) -> Found:
    limits, candidates = {}, []
    for name, least in (("brightness", LEAST_BRIGHTNESS), ("colour", LEAST_COLOUR)):
        values = getattr(change, name)
        limits[name] = np.maximum(TIMES_NOISE * _noise(values, change.judged, change.frame.step), least)
        for sign in (1, -1):
            candidates += _standing_out(change, sign * values, limits[name])
    # Brightness draws the sharper outline: what shows in both is taken from it.
    places = np.zeros(change.judged.shape, np.uint8)
    marks: list[Mark] = []
    for mark, part, blob in candidates:
        if (places[part] & blob).any():
            continue
        marks.append(mark)
        places[part] |= cv2.dilate(blob.astype(np.uint8), np.ones((_APART, _APART), np.uint8))
    judged = change.judged
    usual = float(np.median(limits["brightness"][judged])) if judged.any() else np.inf
    marks.sort(key=lambda mark: -mark.area_mm2)
    return Found(marks, usual)


def _noise(values: np.ndarray, judged: np.ndarray, step: float) -> np.ndarray:
    """Local standard deviation, from mean absolute values in which what stands out is cut."""
    size = np.abs(values)
    usual = float(np.median(size[judged])) if judged.any() else 1.0
    spread = _NOISE_OVER_MM / step / 4
    small = (max(1, values.shape[1] // 4), max(1, values.shape[0] // 4))

    def around(product: np.ndarray) -> np.ndarray:
        return cv2.GaussianBlur(
            cv2.resize(product, small, interpolation=cv2.INTER_AREA),
            (0, 0),
            spread,
            borderType=cv2.BORDER_CONSTANT,
        )

    cut = np.where(judged, np.minimum(size, 3 * usual), 0).astype(np.float32)
    mean = around(cut) / np.maximum(around(judged.astype(np.float32)), 1e-3)
    # A Gaussian's mean absolute value is 0.798 of its standard deviation.
    wide = cv2.resize(mean / 0.798, values.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.maximum(wide, 0.5 * usual / 0.674)


def _standing_out(change: Change, values: np.ndarray, limit: np.ndarray) -> list:
    """(mark, part of the frame, where in it) for each connected place where ``values``
    pass the limit, the clearest first."""
    found: list = []
    step, judged = change.frame.step, change.judged
    strong = judged & (values > limit)
    if not strong.any():
        return found
    weak = (judged & (values > 0.5 * limit)).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(weak, connectivity=8)
    for number in np.unique(labels[strong]):
        left, top, wide, high, _ = stats[number]
        edge = round(0.5 / step)
        part = (
            slice(max(0, top - edge), top + high + edge),
            slice(max(0, left - edge), left + wide + edge),
        )
        here = labels[part] == number
        strength = float(np.percentile(values[part][here & strong[part]], _STRONGEST))
        for blob in _pieces(here & (values[part] > 0.5 * strength), strong[part]):
            if blob.sum() * step**2 < np.pi / 4 * LEAST_SIZE_MM**2:
                continue
            if _stepped(values[part], judged[part], blob, strength, step) < _LEAST_STEPS:
                continue
            clear = float((values[part] / limit[part])[blob].max())
            mark = _mark(change, part, blob, clear)
            # Colour alone is noise of the sensor and of the JPEG: it marked clean surfaces.
            if abs(mark.brightness) >= LEAST_BRIGHTNESS:
                found.append((mark, part, blob))
    return sorted(found, key=lambda each: -each[0].noise)


def _pieces(inside: np.ndarray, strong: np.ndarray):
    """Connected pieces with a strong point, their holes filled."""
    count, labels = cv2.connectedComponents(inside.astype(np.uint8), connectivity=8)
    for number in range(1, count):
        piece = labels == number
        if not (piece & strong).any():
            continue
        contours, _ = cv2.findContours(piece.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        yield cv2.drawContours(np.zeros(piece.shape, np.uint8), contours, -1, 1, cv2.FILLED) > 0


def _stepped(
    values: np.ndarray, judged: np.ndarray, blob: np.ndarray, strength: float, step: float
) -> float:
    """Share of the border across which the change falls steeply, with judged ground outside."""
    to_inside = cv2.distanceTransform((~blob).astype(np.uint8), cv2.DIST_L2, 5)
    to_outside = cv2.distanceTransform(blob.astype(np.uint8), cv2.DIST_L2, 5)
    distance = cv2.GaussianBlur(to_inside - to_outside, (0, 0), 1.5)
    border = np.argwhere(np.abs(to_inside - 1) < 0.5)
    if not len(border):
        return 0.0
    slope_y, slope_x = np.gradient(distance)
    normal = np.column_stack([slope_x[tuple(border.T)], slope_y[tuple(border.T)]])
    normal /= np.maximum(np.hypot(*normal.T), 1e-6)[:, None]
    reach = _ACROSS_MM / step

    def at(picture: np.ndarray, along: float) -> np.ndarray:
        u, v = (border[:, ::-1] + along * reach * normal).T.astype(np.float32)
        return cv2.remap(picture, u[None], v[None], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)[0]

    falls = at(values, -1.0) - at(values, 1.0) > _STEP_SHARE * strength
    known = at(judged.astype(np.float32), 1.0) > 0.5
    return float((falls & known).mean())


def _mark(change: Change, part: tuple[slice, slice], blob: np.ndarray, noise: float) -> Mark:
    frame = change.frame
    contours, _ = cv2.findContours(blob.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(contours, key=len)[:, 0, :]
    rows, columns = np.nonzero(blob)
    corner = np.array([part[1].start, part[0].start])

    def strongest(values: np.ndarray) -> float:
        inside = values[part][blob]
        sign = np.sign(np.median(inside))
        return float(np.expm1(sign * np.percentile(sign * inside, _STRONGEST)))

    def place(points: np.ndarray) -> np.ndarray:
        return (points + corner) * frame.step + np.array([frame.x0, frame.y0])

    x, y = place(np.array([columns.mean(), rows.mean()]))
    return Mark(
        float(x),
        float(y),
        float(blob.sum() * frame.step**2),
        strongest(change.brightness),
        strongest(change.colour),
        noise,
        place(outline),
    )
