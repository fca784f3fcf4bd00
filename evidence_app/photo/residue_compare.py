"""The change of a surface between two registered photos, the light's own change removed.

Where a place shows another surface in one photo than in the other (walls, edges, what is
hidden) no change is believed: near such places a change counts only if no surface explains
it, and along the reference's own strong edges it does not count at all.
"""

from __future__ import annotations

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.photo.residue_register import Frame, Layer, blind_at
from evidence_app.photo.residue_view import Sight

STEP_MM = 0.05
_SMALL = 4  # the light is followed on every fourth point
_SOFT_MM = 0.10  # before light is compared
_LIGHT_MM = 0.9  # over which light may vary
_DARK = 0.003
_EDGE_MM = 0.12
_EDGE_HIGH, _EDGE_LOW = 1.1, 0.7  # slope of the logarithm of light, per mm
_EDGE_LENGTH_MM = 2.0
_EDGE_AROUND_MM = 0.2
_BESIDE_MM = 0.35  # beyond the parallax, from another surface that may explain a change
_TELLING_MM = 1.0
_WIDENED_MM = 5.0
_AGREES = 1.8  # times the usual disagreement
_MOST_OFF = 0.15
_TOUCHED_MM2 = 1.0
_MOST_CHANGE = 1.5


class Change(Struct, frozen=True, eq=False):
    """On the points of ``frame``: relative change of brightness and of colour (red over
    blue) as logarithms, float32, and where (bool) they may be judged. ``shown`` and
    ``clean`` are the light (H, W, 3) of photo and reference."""

    frame: Frame
    brightness: np.ndarray
    colour: np.ndarray
    judged: np.ndarray
    covered: np.ndarray
    shown: np.ndarray
    clean: np.ndarray


class _Logs(Struct, frozen=True, eq=False):
    brightness: np.ndarray
    colour: np.ndarray


def compare(reference: Sight, photo: Sight, layers: list[Layer], frame: Frame,
            without: np.ndarray | None = None) -> Change:
    """``without`` (bool) are places that must not stand for the light around them: marks
    found before."""
    x, y = frame.points()
    clean_light = reference.seen_at(x, y)
    clean = _logs(clean_light)
    covers = [layer.cover(frame) for layer in layers]
    usable = ~blind_at(reference, photo, x, y)
    edges = _edges(clean.brightness, frame.step)
    lights = [photo.seen_at(*layer.to(x, y)) for layer in layers]
    raw = [_difference(_logs(light), clean) for light in lights]
    off = [_disagreement(change, usable & ~edges, frame.step) for change in raw]
    seen = [usable & _widened(cover, o, usable & ~edges, frame.step)
            for cover, o in zip(covers, off, strict=True)]
    label = _nearest(off, seen)
    trusted = ~edges if without is None else ~edges & ~without
    levels = [_level(change, s & (label == k) & trusted, frame.step)
              for k, (change, s) in enumerate(zip(raw, seen, strict=True))]
    brightness, colour = _least(photo, layers, frame, clean, raw, levels, label)
    covered = np.logical_or.reduce(seen)
    shown = np.choose(np.maximum(label, 0)[..., None], lights) if lights else clean_light
    return Change(frame, brightness, colour, covered & ~edges & (label >= 0), covered, shown,
                  clean_light)


def _logs(light: np.ndarray) -> _Logs:
    soft = np.maximum(cv2.GaussianBlur(light, (0, 0), _SOFT_MM / STEP_MM), 0) + np.float32(_DARK)
    luminance = soft @ np.array([0.0722, 0.7152, 0.2126], np.float32)
    return _Logs(cv2.log(luminance), cv2.log(soft[..., 2] / soft[..., 0]))


def _difference(photo: _Logs, clean: _Logs) -> _Logs:
    def limited(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.clip(a - b, -_MOST_CHANGE, _MOST_CHANGE)
    return _Logs(limited(photo.brightness, clean.brightness), limited(photo.colour, clean.colour))


def _edges(log: np.ndarray, step: float) -> np.ndarray:
    """Long strong edges of the reference and a little around them, as bool."""
    soft = cv2.GaussianBlur(log, (0, 0), _EDGE_MM / step)
    slope = cv2.magnitude(cv2.Scharr(soft, cv2.CV_32F, 1, 0), cv2.Scharr(soft, cv2.CV_32F, 0, 1))
    slope /= np.float32(32 * step)
    weak = (slope > _EDGE_LOW).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(weak, connectivity=8)
    size = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    strongest = np.zeros(len(stats), bool)
    strongest[np.unique(labels[slope > _EDGE_HIGH])] = True
    long = (size * step > _EDGE_LENGTH_MM) & strongest
    long[0] = False
    reach = round(_EDGE_AROUND_MM / step)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    return cv2.dilate(long[labels].astype(np.uint8), kernel) > 0


def _disagreement(change: _Logs, known: np.ndarray, step: float) -> np.ndarray:
    """How much two pictures of one surface differ in their fine structure, by the mean of
    what is ``known`` around each place."""
    small = _shrunk(known.astype(np.float32))
    fine = change.brightness - cv2.GaussianBlur(change.brightness, (0, 0), 0.5 / step)
    size = _shrunk(np.where(known, np.minimum(np.abs(fine), np.float32(_MOST_OFF)), 0))
    spread = _TELLING_MM / 2 / step / _SMALL
    mean = cv2.GaussianBlur(size, (0, 0), spread) / np.maximum(
        cv2.GaussianBlur(small, (0, 0), spread), 0.02)
    return cv2.resize(mean, known.shape[::-1], interpolation=cv2.INTER_LINEAR)


def _widened(cover: np.ndarray, off: np.ndarray, free: np.ndarray, step: float) -> np.ndarray:
    """Where a surface was seen, and where beside that, up to the next edge, the two
    pictures agree as well."""
    inside = cover & free
    if not inside.any():
        return cover
    reach = round(_WIDENED_MM / step)
    near = cv2.blur(cover.astype(np.float32), (2 * reach + 1, 2 * reach + 1)) > 1e-4
    agrees = (free & near & (off < _AGREES * float(np.median(off[inside])))) | inside
    _, labels = cv2.connectedComponents(agrees.astype(np.uint8), connectivity=4)
    touched = np.bincount(labels[inside], minlength=labels.max() + 1) * step**2 > _TOUCHED_MM2
    touched[0] = False
    return cover | touched[labels]


def _nearest(off: list[np.ndarray], seen: list[np.ndarray]) -> np.ndarray:
    """The surface, of those seen at a place, whose picture agrees best; -1 for none."""
    best = np.full(seen[0].shape, np.inf, np.float32)
    label = np.full(seen[0].shape, -1, np.int16)
    for number, (here, mine) in enumerate(zip(seen, off, strict=True)):
        better = here & (mine < best)
        best[better], label[better] = mine[better], number
    return label


def _level(change: _Logs, trusted: np.ndarray, step: float) -> _Logs:
    """The slow change that light makes: locally an inclined plane through the trusted
    points, twice, the second time without what stands out."""
    small = _shrunk(trusted.astype(np.float32))
    spread = _LIGHT_MM / (step * _SMALL)
    found = []
    for values in (change.brightness, change.colour):
        mean = _shrunk(np.where(trusted, values, 0)) / np.maximum(small, 1e-3)
        weight = small
        for _ in range(2):
            level = _local_plane(mean, weight, spread)
            off = np.abs(mean - level)
            usual = float(np.median(off[small > 0.5])) if (small > 0.5).any() else 1.0
            weight = small / np.maximum(1, (off / (3 * usual + 1e-4)) ** 2)
        size = (values.shape[1], values.shape[0])
        found.append(cv2.resize(level, size, interpolation=cv2.INTER_LINEAR))
    return _Logs(*found)


def _shrunk(values: np.ndarray) -> np.ndarray:
    size = (max(1, values.shape[1] // _SMALL), max(1, values.shape[0] // _SMALL))
    return cv2.resize(values, size, interpolation=cv2.INTER_AREA)


def _local_plane(values: np.ndarray, weight: np.ndarray, spread: float) -> np.ndarray:
    """At each point the height there of the plane that fits its surroundings best, by
    Gaussian weights (local regression of first order)."""
    rows, columns = values.shape
    x = np.broadcast_to((np.arange(columns, dtype=np.float32) - columns / 2) / spread, values.shape)
    y = np.broadcast_to(((np.arange(rows, dtype=np.float32) - rows / 2) / spread)[:, None],
                        values.shape)

    def around(product: np.ndarray) -> np.ndarray:
        return cv2.GaussianBlur(product.astype(np.float32), (0, 0), spread,
                                borderType=cv2.BORDER_CONSTANT).astype(np.float64)

    w, wx, wy = around(weight), around(weight * x), around(weight * y)
    v, vx, vy = (around(weight * values * factor) for factor in (1, x, y))
    w = w + 1e-6
    mx, my, mv = wx / w, wy / w, v / w
    # Moments about the local middle; the small hold keeps edges of the data steady.
    xx = around(weight * x * x) / w - mx * mx + 0.05
    yy = around(weight * y * y) / w - my * my + 0.05
    xy = around(weight * x * y) / w - mx * my
    xv, yv = vx / w - mx * mv, vy / w - my * mv
    det = xx * yy - xy * xy
    slope_x, slope_y = (yy * xv - xy * yv) / det, (xx * yv - xy * xv) / det
    return (mv + slope_x * (x - mx) + slope_y * (y - my)).astype(np.float32)


def _least(photo: Sight, layers: list[Layer], frame: Frame, clean: _Logs, raw: list[_Logs],
           levels: list[_Logs], label: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Each place's change on its own surface, or the least of those that another surface
    close by, or what lies between the two, would leave."""
    result = []
    for name in ("brightness", "colour"):
        own = [getattr(r, name) - getattr(v, name) for r, v in zip(raw, levels, strict=True)]
        result.append([_soft(values, frame.step) for values in own])
    at = np.maximum(label, 0)
    brightness, colour = (np.choose(at, values) for values in result)
    x, y = frame.points()
    for i in range(len(layers)):
        for j in range(i + 1, len(layers)):
            both = _close(label, layers, i, j, x, y, frame.step)
            if not both.any():
                continue
            rows, columns = (slice(v.min(), v.max() + 1) for v in np.nonzero(both))
            part = (rows, columns)
            others = [(result[0][k][part], result[1][k][part]) for k in (i, j)]
            others += _between(photo, layers[i], layers[j], (levels[i], levels[j]), clean, part,
                               x[part], y[part], frame.step)
            here = both[part]
            for other_brightness, other_colour in others:
                for mine, other in ((brightness[part], other_brightness),
                                    (colour[part], other_colour)):
                    less = here & (np.abs(other) < np.abs(mine))
                    mine[less] = other[less]
    return brightness, colour


def _close(label: np.ndarray, layers: list[Layer], i: int, j: int, x: np.ndarray, y: np.ndarray,
           step: float) -> np.ndarray:
    """Where (bool) the boundary of two surfaces may be seen in one photo or the other."""
    middle = tuple(np.array([v.mean()]) for v in (x, y))
    here, there = (np.array(layers[k].to(*middle)) for k in (i, j))
    reach = round((_BESIDE_MM + float(np.hypot(*(here - there)).item())) / step)
    kernel = np.ones((2 * reach + 1,) * 2, np.uint8)
    first, second = (cv2.dilate((label == k).astype(np.uint8), kernel) for k in (i, j))
    return (first & second) > 0


def _between(photo: Sight, one: Layer, other: Layer, levels: tuple[_Logs, _Logs], clean: _Logs,
             part: tuple[slice, slice], x: np.ndarray, y: np.ndarray,
             step: float) -> list[tuple[np.ndarray, np.ndarray]]:
    """The change that walls between two surfaces would leave, at three depths."""
    found = []
    (x0, y0), (x1, y1) = one.to(x, y), other.to(x, y)
    for share in (0.25, 0.5, 0.75):
        light = photo.seen_at(x0 + share * (x1 - x0), y0 + share * (y1 - y0))
        change = _difference(_logs(light), _Logs(clean.brightness[part], clean.colour[part]))
        found.append(tuple(
            _soft(getattr(change, name) - (1 - share) * getattr(levels[0], name)[part]
                  - share * getattr(levels[1], name)[part], step)
            for name in ("brightness", "colour")))
    return found


def _soft(values: np.ndarray, step: float) -> np.ndarray:
    return cv2.GaussianBlur(values, (0, 0), 0.10 / step)
