"""What things are made of and the simple outlines they have.

A material is a colour (linear reflectance, blue, green, red) with a grain: a
noise tile laid over the plane in mm, so that it moves and shrinks with the
surface as a real one does.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.practice.scenes.canvas import Area, Box, Colour, Strip, planes

_TILE = 1024

Outline = Callable[[np.ndarray, np.ndarray], np.ndarray]  # signed distance at (x, y), mm


class Material(Struct, frozen=True):
    """``grain`` names the noise, ``depth`` is its relative strength, ``texel`` its
    size in mm, ``gloss`` how much is mirrored (1: smooth glass)."""

    colour: Colour
    grain: str = "fine"
    depth: float = 0.05
    texel: float = 0.04
    gloss: float = 0.2

    def on(self, area: Area, offset: tuple[float, float] = (0.0, 0.0)) -> np.ndarray:
        """Reflectance (3, H, W) float32 over an area."""
        map_x = _wrapped(area.x + np.float32(offset[0]), self.texel)
        map_y = _wrapped(area.y + np.float32(offset[1]), self.texel)
        noise = cv2.remap(_tile(self.grain), map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
        factor = 1 + np.float32(self.depth) * noise
        return factor * planes(self.colour)

    def times(self, factor: float, grain: float = 1.0) -> Material:
        """The same material, brighter or darker, its grain stronger or weaker."""
        b, g, r = self.colour
        colour = (b * factor, g * factor, r * factor)
        return Material(colour, self.grain, self.depth * grain, self.texel, self.gloss)


# The Ossmere H7 and the bench it lies on.
HOUSING = Material((0.175, 0.150, 0.118), "plastic", 0.055, 0.05, 0.30)
GLASS_BORDER = Material((0.022, 0.019, 0.018), "fine", 0.02, 0.05, 1.0)
GLASS_LIGHT_BORDER = Material((0.33, 0.335, 0.33), "fine", 0.008, 0.05, 0.9)
DISPLAY = Material((0.014, 0.011, 0.010), "fine", 0.02, 0.05, 1.15)
MAT = Material((0.150, 0.135, 0.045), "speckle", 0.10, 0.06, 0.12)
PAPER = Material((0.845, 0.85, 0.85), "fine", 0.010, 0.05, 0.12)
STEEL = Material((0.40, 0.41, 0.42), "brushed", 0.10, 0.03, 1.2)
DARK_STEEL = Material((0.060, 0.060, 0.062), "fine", 0.05, 0.04, 0.5)
RUBBER = Material((0.030, 0.029, 0.028), "plastic", 0.10, 0.05, 0.10)
FELT = Material((0.125, 0.120, 0.115), "felt", 0.14, 0.035, 0.02)
BOARD = Material((0.030, 0.085, 0.022), "fine", 0.05, 0.05, 0.45)
COPPER = Material((0.16, 0.27, 0.50), "fine", 0.04, 0.05, 0.9)
NYLON = Material((0.58, 0.64, 0.66), "plastic", 0.02, 0.05, 0.35)
FOIL = Material((0.055, 0.055, 0.055), "fine", 0.03, 0.05, 0.6)
LABEL = Material((0.74, 0.76, 0.76), "fine", 0.008, 0.05, 0.25)
INK: Colour = (0.040, 0.038, 0.038)


def _wrapped(at: np.ndarray, texel: float) -> np.ndarray:
    """mm to texels within the tile. Many times faster than the remainder of a division."""
    tiles = at * np.float32(1 / (texel * _TILE))
    tiles -= np.floor(tiles)
    tiles *= _TILE
    return tiles


@cache
def _tile(grain: str) -> np.ndarray:
    """A (1024, 1024) float32 noise that joins with itself on all sides."""
    rng = np.random.default_rng([20260302, sum(grain.encode())])
    white = rng.standard_normal((4, _TILE, _TILE)).astype(np.float32)
    if grain == "fine":
        tile = _smooth(white[0], 0.8, 0.8) + 0.5 * _smooth(white[1], 6, 6)
    elif grain == "plastic":  # the fine eroded grain of a moulding tool
        tile = _smooth(white[0], 1.6, 1.6) - 0.8 * _smooth(white[0], 4, 4)
        tile = _unit(np.tanh(1.2 * tile)) + 0.35 * _smooth(white[1], 40, 40)
    elif grain == "brushed":
        tile = _smooth(white[0], 90, 0.7) + 0.5 * _smooth(white[1], 25, 1.2)
    elif grain == "felt":
        tile = _lean(_smooth(white[0], 9, 0.9), 0)
        for i in (1, 2, 3):
            tile = tile + _lean(_smooth(white[i], 9, 0.9), i)
        tile = tile + 0.6 * _smooth(white[0], 18, 18)
    elif grain == "speckle":
        tile = _smooth(white[0], 1.2, 1.2) + 2.2 * (_smooth(white[1], 1.5, 1.5) > 2.2)
        tile = tile + 0.4 * _smooth(white[2], 30, 30)
    elif grain == "cloud":
        tile = _smooth(white[0], 60, 60) + 0.5 * _smooth(white[1], 20, 20)
    else:
        raise KeyError(grain)
    return _unit(tile)


def _smooth(white: np.ndarray, sigma_x: float, sigma_y: float) -> np.ndarray:
    """Wrapped Gaussian smoothing, through the spectrum, brought to unit deviation."""
    fx = np.fft.rfftfreq(_TILE)
    fy = np.fft.fftfreq(_TILE)
    passed = np.exp(-2 * np.pi**2 * ((sigma_x * fx[None, :]) ** 2 + (sigma_y * fy[:, None]) ** 2))
    return _unit(np.fft.irfft2(np.fft.rfft2(white) * passed, s=white.shape).astype(np.float32))


def _lean(tile: np.ndarray, times: int) -> np.ndarray:
    """Fibres along x turned to x, y or one of the diagonals; the tile still joins,
    because a shear by one texel a row comes back to itself after a whole tile."""
    if times == 0:
        return tile
    if times == 1:
        return tile.T
    row, column = np.ogrid[:_TILE, :_TILE]
    shift = row if times == 2 else -row
    return tile[row, (column + shift) % _TILE]


def _unit(tile: np.ndarray) -> np.ndarray:
    return ((tile - tile.mean()) / tile.std()).astype(np.float32)


def lay(
    strip: Strip,
    box: Box,
    depth: float,
    outline: Outline,
    material: Material,
    rounded: tuple[float, float] | None = None,
    margin: float = 0.0,
    offset: tuple[float, float] = (0.0, 0.0),
) -> None:
    """A material inside an outline on the plane at ``depth``; ``rounded`` are the width and the
    strength of its edge, ``offset`` is where in its grain it begins."""
    area = strip.area(depth, box, margin)
    if area is None:
        return
    distance = outline(area.x, area.y)
    area.paint(area.cover(distance), material.on(area, offset), material.gloss)
    if rounded is not None:
        area.round_edge(distance, *rounded)


def rectangle(x: np.ndarray, y: np.ndarray, box: Box, radius: float = 0.0) -> np.ndarray:
    """Signed distance to a rectangle (x0, y0, x1, y1) with rounded corners."""
    x0, y0, x1, y1 = (np.float32(v) for v in box)
    dx = np.abs(x - (x0 + x1) / 2) - ((x1 - x0) / 2 - np.float32(radius))
    dy = np.abs(y - (y0 + y1) / 2) - ((y1 - y0) / 2 - np.float32(radius))
    if not radius:
        return np.maximum(dx, dy)
    outside = far(np.maximum(dx, 0), np.maximum(dy, 0))
    return outside + np.minimum(np.maximum(dx, dy), 0) - np.float32(radius)


def circle(x: np.ndarray, y: np.ndarray, cx: float, cy: float, radius: float) -> np.ndarray:
    return far(x - np.float32(cx), y - np.float32(cy)) - np.float32(radius)


def far(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Lengths of vectors of some millimetres, which need none of hypot's care for overflow."""
    return np.sqrt(x * x + y * y)


def turned(
    x: np.ndarray, y: np.ndarray, cx: float, cy: float, degrees: float
) -> tuple[np.ndarray, np.ndarray]:
    """Coordinates along and across an axis that leans by ``degrees`` through (cx, cy)."""
    cosine, sine = np.float32(np.cos(np.radians(degrees))), np.float32(np.sin(np.radians(degrees)))
    dx, dy = x - np.float32(cx), y - np.float32(cy)
    return dx * cosine + dy * sine, dy * cosine - dx * sine
