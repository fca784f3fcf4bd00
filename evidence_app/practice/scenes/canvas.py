"""Painting flat and stepped things as a camera sees them, with exact edges.

A picture is painted in strips of rows. Every edge is a signed distance in mm
(negative inside) on the plane where the edge lies; the share of a pixel that it
covers is a ramp one pixel wide, whose mean and variance are those of a square
pixel in any direction. So an edge is where the truth says, far below a
thousandth of a millimetre, and no supersampling is needed.

Colours are linear reflectances in the order blue, green, red. A coloured area is three
planes, (3, H, W): a share or a shade (H, W) then goes for each of them as it is, and the
arithmetic runs along whole rows.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.practice.optics import Conditions, View, expose

Colour = tuple[float, float, float]
Box = tuple[float, float, float, float]  # x0, y0, x1, y1 in mm

_STRIP_ROWS = 96


def around(x: float, y: float, reach_x: float, reach_y: float | None = None) -> Box:
    """The box that reaches so far to each side of (x, y); as far up and down where nothing else is said."""
    reach_y = reach_x if reach_y is None else reach_y
    return (x - reach_x, y - reach_y, x + reach_x, y + reach_y)


def grown(box: Box, by: float) -> Box:
    return (box[0] - by, box[1] - by, box[2] + by, box[3] + by)


class Light(Struct, frozen=True, eq=False):
    """The lamps of a scene. ``fall`` is how far (x, y) a shadow moves for each mm
    of height, ``shadow`` the light left in a full shadow. ``level`` multiplies
    what surfaces send back, ``mirror`` is what a glass-smooth surface mirrors;
    both are small maps over the picture."""

    fall: tuple[float, float]
    shadow: float
    level: np.ndarray
    mirror: np.ndarray


class Strip:
    """Some rows of a picture while they are painted."""

    def __init__(self, view: View, rows: slice, light: Light) -> None:
        self.view, self.rows, self.light = view, rows, light
        self._slope_x, self._slope_y = view.slopes(rows)
        shape = (rows.stop - rows.start, view.width)
        self.colour = np.zeros((3, *shape), np.float32)
        self.gloss = np.zeros(shape, np.float32)

    def area(self, depth: float, box: Box | None = None, margin: float = 0.0) -> Area | None:
        """The part of the strip where ``box`` on the plane at ``depth`` is seen,
        widened by ``margin`` mm; None when it is not seen."""
        ys, xs = slice(0, len(self.gloss)), slice(0, self.view.width)
        if box is not None:
            x0, y0, x1, y1 = grown(box, margin)
            corners = [(x, y, depth) for x in np.linspace(x0, x1, 5) for y in np.linspace(y0, y1, 5)]
            seen = self.view.project(np.array(corners))
            low = np.floor(seen.min(axis=0)).astype(int) - 3
            high = np.ceil(seen.max(axis=0)).astype(int) + 4
            xs = slice(max(low[0], 0), min(high[0], self.view.width))
            ys = slice(max(low[1] - self.rows.start, 0), min(high[1] - self.rows.start, len(self.gloss)))
            if xs.start >= xs.stop or ys.start >= ys.stop:
                return None
        return self.seen(depth, ys, xs)

    def seen(self, depth: float, ys: slice, xs: slice) -> Area:
        """These pixels of the strip as they see the plane at ``depth``."""
        camera = self.view.position
        reach = np.float32(depth - camera[2])
        x = np.float32(camera[0]) + reach * self._slope_x[ys, xs]
        y = np.float32(camera[1]) + reach * self._slope_y[ys, xs]
        return Area(self, ys, xs, x, y, self._pixel_mm(depth))

    def _pixel_mm(self, depth: float) -> float:
        """Side of a pixel on the plane, at the middle of the strip."""
        v = (self.rows.start + self.rows.stop) / 2
        u = self.view.width / 2
        a, b, c = self.view.to_plane(np.array([[u, v], [u + 1, v], [u, v + 1]]), depth)
        (p, q), (r, s) = b - a, c - a
        return float(np.sqrt(abs(p * s - q * r)))


class Area:
    """A rectangle of a strip with the mm coordinates of its pixels on one plane."""

    def __init__(
        self, strip: Strip, ys: slice, xs: slice, x: np.ndarray, y: np.ndarray, pixel: float
    ) -> None:
        self.strip, self.x, self.y, self.pixel = strip, x, y, pixel
        self._ys, self._xs = ys, xs
        self._colour = strip.colour[:, ys, xs]
        self._gloss = strip.gloss[ys, xs]

    @property
    def light(self) -> Light:
        return self.strip.light

    def on_plane(self, depth: float) -> Area:
        """The same pixels as they see another plane."""
        return self.strip.seen(depth, self._ys, self._xs)

    def cover(self, distance: np.ndarray, soft: float = 0.0) -> np.ndarray:
        """Share of each pixel inside a signed distance; ``soft`` mm blurs the edge."""
        return np.clip(0.5 - distance / np.float32(max(self.pixel, soft)), 0, 1)

    def paint(
        self, share: np.ndarray | np.floating, colour: np.ndarray | Colour, gloss: float = 0.0
    ) -> None:
        """Lay ``colour`` over what is there, by ``share``."""
        change = planes(colour) - self._colour
        change *= share
        self._colour += change
        change = np.float32(gloss) - self._gloss
        change *= share
        self._gloss += change

    def compose(
        self, within: np.ndarray, layers: list[tuple[np.ndarray, np.ndarray, float]], rest: np.ndarray
    ) -> None:
        """Where ``within`` holds, exactly the (share, colour, gloss) of ``layers`` whose
        shares add up to at most one, and ``rest`` for what they leave."""
        left = np.ones(within.shape, np.float32)
        colour = np.zeros_like(self._colour)
        gloss = np.zeros_like(self._gloss)
        for share, tint, shine in layers:
            colour += share * tint
            gloss += share * np.float32(shine)
            left -= share
        colour += left * rest
        np.copyto(self._colour, colour, where=within)
        np.copyto(self._gloss, gloss, where=within)

    def add(self, share: np.ndarray, colour: np.ndarray | Colour) -> None:
        self._colour += share * planes(colour)

    def shade(self, factor: np.ndarray) -> None:
        """Multiply what is there, colour and mirrored light."""
        self._colour *= factor
        self._gloss *= factor

    def tint(self, factor: np.ndarray) -> None:
        """Multiply each colour by its own factor (3, H, W)."""
        self._colour *= factor

    def cast(
        self, distance: Callable[[np.ndarray, np.ndarray], np.ndarray], height: float, soft: float = 0.25
    ) -> None:
        """The shadow on this plane of a thing that stands ``height`` mm above it."""
        fall = self.light.fall
        moved = distance(self.x - fall[0] * height, self.y - fall[1] * height)
        blur = soft + 0.5 * height
        dark = (1 - self.light.shadow) * np.clip(0.5 - moved / (2 * blur), 0, 1)
        contact = 0.35 * np.exp(-np.square(np.maximum(distance(self.x, self.y), 0) / 0.5))
        self.shade((1 - dark) * (1 - contact))

    def round_edge(self, distance: np.ndarray, width: float, strength: float) -> None:
        """Light and dark along the inside of an edge that is rounded over ``width``."""
        across, down = slopes(distance, self.pixel)
        fall = np.array(self.light.fall) / max(1e-6, np.hypot(*self.light.fall))
        facing = -(across * np.float32(fall[0]) + down * np.float32(fall[1]))
        band = np.clip(1 + distance / np.float32(width), 0, 1) * (distance < self.pixel)
        self.shade(1 + np.float32(strength) * (facing * band - 0.5 * band * band))


def planes(colour: np.ndarray | Colour) -> np.ndarray:
    """A colour for every pixel, (3, 1, 1) float32; an array (3, H, W) is handed back."""
    return colour if isinstance(colour, np.ndarray) else np.array(colour, np.float32)[:, None, None]


def slopes(distance: np.ndarray, pixel: float) -> tuple[np.ndarray, np.ndarray]:
    """Slope of a signed distance along x and along y; 0 along a side of one pixel."""
    along_y, along_x = (
        np.gradient(distance, np.float32(pixel), axis=axis)
        if distance.shape[axis] > 1
        else np.zeros_like(distance)
        for axis in (0, 1)
    )
    return along_x, along_y


def render(
    view: View, conditions: Conditions, light: Light, seed: int, paint: Callable[[Strip], None]
) -> np.ndarray:
    """The picture (H, W, 3) uint8 BGR of what ``paint`` paints on every strip."""
    picture = np.empty((3, view.height, view.width), np.float32)

    def one(first: int) -> None:
        rows = slice(first, min(first + _STRIP_ROWS, view.height))
        strip = Strip(view, rows, light)
        paint(strip)
        level, mirror = (_rows_of(small, view, rows) for small in (light.level, light.mirror))
        np.multiply(strip.colour, level, out=picture[:, rows])
        picture[:, rows] += strip.gloss * mirror

    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        list(pool.map(one, range(0, view.height, _STRIP_ROWS)))
    return expose(picture, conditions, seed)


def _rows_of(small: np.ndarray, view: View, rows: slice) -> np.ndarray:
    """Rows of a small map stretched over the picture."""
    scale_y = (small.shape[0] - 1) / max(1, view.height - 1)
    scale_x = (small.shape[1] - 1) / max(1, view.width - 1)
    y = np.arange(rows.start, rows.stop, dtype=np.float32)[:, None] * np.float32(scale_y)
    x = np.arange(view.width, dtype=np.float32)[None, :] * np.float32(scale_x)
    x, y = np.broadcast_arrays(x, y)
    return cv2.remap(small, np.ascontiguousarray(x), np.ascontiguousarray(y), cv2.INTER_LINEAR)


def lamps(conditions: Conditions, rng: np.random.Generator) -> Light:
    """A bench lamp from a random side, a window mirrored softly, and glare."""
    side = rng.uniform(0, 2 * np.pi)
    slope = rng.uniform(0.5, 1.1)
    rows, columns = 96, 128
    y, x = np.meshgrid(np.linspace(-1, 1, rows), np.linspace(-1, 1, columns), indexing="ij")
    toward = x * np.cos(side) + y * np.sin(side)
    warm = rng.uniform(0.1, 0.5, 2)
    level = 0.95 - conditions.shading * (0.22 * toward + 0.10 * (x * x + y * y))
    level += conditions.shading * 0.08 * np.exp(-((x - warm[0]) ** 2 + (y - warm[1]) ** 2) / 0.3)
    mirror = 0.03 + 0.012 * (x * np.sin(side) - y * np.cos(side))
    mirror += 0.05 * _mirrored_window(x, y, rng)
    if conditions.glare:
        mirror += _glare(x, y, conditions)
        level += 0.15 * _glare(x, y, conditions)
    return Light(
        (float(slope * np.cos(side)), float(slope * np.sin(side))),
        float(rng.uniform(0.45, 0.65)),
        level.astype(np.float32),
        mirror.astype(np.float32),
    )


def _mirrored_window(x: np.ndarray, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A pale leaning rectangle with soft borders, as a ceiling lamp is mirrored."""
    middle = rng.uniform(-0.9, 0.9, 2)
    lean = rng.uniform(-0.6, 0.6)
    across = (x - middle[0]) + lean * (y - middle[1])
    half = rng.uniform(0.15, 0.4)
    soft = rng.uniform(0.06, 0.15)
    return 1 / (1 + np.exp((np.abs(across) - half) / soft))


def _glare(x: np.ndarray, y: np.ndarray, c: Conditions) -> np.ndarray:
    gx, gy = 2 * c.glare_x - 1, 2 * c.glare_y - 1
    square = (x - gx) ** 2 + ((y - gy) * 0.75) ** 2
    return c.glare * (6 * np.exp(-square / 0.02) + 0.5 * np.exp(-square / 0.25))
