"""The change of a surface between two registered photos, the light's own change removed.

Each surface is compared by its own movement, and only where both photos show it.
"""

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.photo.residue.regions import Region
from evidence_app.photo.residue.register import CommonFrame
from evidence_app.photo.residue.view import Sight

_SMALL = 4  # the light is followed on every fourth point
_SOFT_MM = 0.10  # before light is compared, and again after
_LIGHT_MM = 0.9  # over which light may vary
_DARK = 0.003
_MOST_CHANGE = 1.5


class Change(Struct, frozen=True, eq=False):
    """On the points of ``frame``: relative change of brightness and of colour (red over
    blue) as logarithms, float32, and where (bool) they may be judged. ``shown`` and
    ``clean`` are the light (H, W, 3) of photo and reference."""

    frame: CommonFrame
    brightness: np.ndarray
    colour: np.ndarray
    judged: np.ndarray
    shown: np.ndarray
    clean: np.ndarray


class _Logs(Struct, frozen=True, eq=False):
    brightness: np.ndarray
    colour: np.ndarray


def compare(reference: Sight, photo: Sight, regions: list[Region], frame: CommonFrame) -> Change:
    x, y = frame.points()
    clean_light = reference.seen_at(x, y)
    clean = _logs(clean_light, frame.step)
    shown = photo.seen_at(x, y)
    brightness, colour = (np.zeros(x.shape, np.float32) for _ in range(2))
    judged = np.zeros(x.shape, bool)
    for region in regions:
        places = region.places
        light = photo.seen_at(*region.layer.to(x, y))
        raw = _difference(_logs(light, frame.step), clean)
        level = _level(raw, places, frame.step)
        for whole, of, slow in (
            (brightness, raw.brightness, level.brightness),
            (colour, raw.colour, level.colour),
        ):
            whole[places] = _soft(of - slow, places, frame.step)[places]
        shown[places] = light[places]
        judged |= places
    return Change(frame, brightness, colour, judged, shown, clean_light)


def _logs(light: np.ndarray, step: float) -> _Logs:
    soft = np.maximum(cv2.GaussianBlur(light, (0, 0), _SOFT_MM / step), 0) + np.float32(_DARK)
    luminance = soft @ np.array([0.0722, 0.7152, 0.2126], np.float32)
    return _Logs(cv2.log(luminance), cv2.log(soft[..., 2] / soft[..., 0]))


def _difference(photo: _Logs, clean: _Logs) -> _Logs:
    def limited(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.clip(a - b, -_MOST_CHANGE, _MOST_CHANGE)

    return _Logs(limited(photo.brightness, clean.brightness), limited(photo.colour, clean.colour))


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
    y = np.broadcast_to(((np.arange(rows, dtype=np.float32) - rows / 2) / spread)[:, None], values.shape)

    def around(product: np.ndarray) -> np.ndarray:
        return cv2.GaussianBlur(
            product.astype(np.float32), (0, 0), spread, borderType=cv2.BORDER_CONSTANT
        ).astype(np.float64)

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


def _soft(values: np.ndarray, places: np.ndarray, step: float) -> np.ndarray:
    """Smoothed among the places alone: beyond their border lies another surface."""
    inside = places.astype(np.float32)
    weight = cv2.GaussianBlur(inside, (0, 0), _SOFT_MM / step)
    return cv2.GaussianBlur(values * inside, (0, 0), _SOFT_MM / step) / np.maximum(weight, 1e-3)
