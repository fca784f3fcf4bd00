"""How wide the edges of a photo are, direction by direction.

A sharp step seen through a blur of standard deviation s has, at its steepest
point, a slope proportional to 1/s. Blurring it again by a known amount b changes
that slope by sqrt((s^2 + b^2) / s^2) (the variances of Gaussians add), so s
follows from the ratio of two slopes whatever the contrast of the edge: the
re-blur measure. Three re-blurs give one equation more than there are unknowns;
an edge that does not satisfy it is a thin line, a corner or two edges side by
side, and is not used.

Only a few hundred small tiles with the best edges of every part of the picture
are looked at, at full resolution, and only the sharp end of what is found
counts: a blurred background must not condemn a sharp subject.
"""

from __future__ import annotations

import cv2
import numpy as np
from msgspec import Struct

DIRECTIONS = 4  # bins of the edge normal, 45 degrees each: across, diagonal, down, diagonal

_TILE = 64
_MARGIN = 10
_REBLURS = (1.0, 2.0, 3.0)
_REGIONS = (4, 4)  # rows, columns of the picture, each giving its best tiles
_LEAST_SLOPE = 3.0  # grey levels per pixel at the first re-blur
_LEAST_EDGES = 24
_SHARP_END = 20  # percentile of edge spreads that stands for a direction
_STEP_TOLERANCE = 0.25


class EdgeSpread(Struct, frozen=True):
    """Standard deviation of the edge spread in pixels for each direction of the
    edge normal (0, 45, 90, 135 degrees from the x axis); None where the picture
    has too few clean edges in that direction."""

    by_direction: tuple[float | None, ...]

    @property
    def judged(self) -> tuple[float, ...]:
        return tuple(value for value in self.by_direction if value is not None)

    @property
    def sharpest(self) -> float | None:
        return min(self.judged, default=None)

    @property
    def smear(self) -> float | None:
        """Length in pixels of a straight, even motion that explains the
        difference between the softest and the sharpest direction: a box of
        length L has the variance L^2 / 12. None with fewer than two directions."""
        if len(self.judged) < 2:
            return None
        return float(np.sqrt(12 * (max(self.judged) ** 2 - min(self.judged) ** 2)))


def edge_spread(luma: np.ndarray, quarter: np.ndarray) -> EdgeSpread:
    """Edge spread of ``luma`` (H, W) uint8; ``quarter`` is its quarter-size copy."""
    corners = _best_tiles(quarter)
    corners = [(y, x) for y, x in corners
               if y + _TILE <= luma.shape[0] and x + _TILE <= luma.shape[1]]
    if not corners:
        return EdgeSpread((None,) * DIRECTIONS)
    strip = np.vstack([luma[y : y + _TILE, x : x + _TILE] for y, x in corners])
    direction, spread = _spreads(strip.astype(np.float32))
    found = []
    for index in range(DIRECTIONS):
        values = spread[direction == index]
        found.append(float(np.percentile(values, _SHARP_END))
                     if len(values) >= _LEAST_EDGES else None)
    return EdgeSpread(tuple(found))


def _best_tiles(quarter: np.ndarray) -> list[tuple[int, int]]:
    """Full-size corners (y, x) of the tiles with the steepest edges, for each
    direction the best of every region of the picture."""
    side = _TILE // 4
    rows, columns = quarter.shape[0] // side, quarter.shape[1] // side
    if not rows or not columns:
        return []
    gx = cv2.Sobel(quarter, cv2.CV_16S, 1, 0)[: rows * side, : columns * side]
    gy = cv2.Sobel(quarter, cv2.CV_16S, 0, 1)[: rows * side, : columns * side]
    chosen = set()
    for slope in (gx, gx + gy, gy, gx - gy):
        steepest = np.abs(slope).reshape(rows, side, columns, side).max(axis=(1, 3))
        for band in np.array_split(np.arange(rows), _REGIONS[0]):
            for part in np.array_split(np.arange(columns), _REGIONS[1]):
                if len(band) and len(part):
                    block = steepest[band[0] : band[-1] + 1, part[0] : part[-1] + 1]
                    y, x = np.unravel_index(int(block.argmax()), block.shape)
                    chosen.add(((band[0] + y) * _TILE, (part[0] + x) * _TILE))
    return sorted((int(y), int(x)) for y, x in chosen)


def _spreads(strip: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Direction bin and edge spread of every clean edge pixel of a column of tiles."""
    first, second, third = (_slopes(strip, sigma) for sigma in _REBLURS)
    y, x = _ridge(*first)
    gx, gy = first[0][y, x], first[1][y, x]
    length = np.hypot(gx, gy)
    cosine, sine = gx / length, gy / length
    # The slope across the edge at each re-blur, along the same normal.
    steepness = [gx_s[y, x] * cosine + gy_s[y, x] * sine for gx_s, gy_s in (first, second, third)]
    with np.errstate(divide="ignore", invalid="ignore"):
        inverse = [1 / np.square(np.maximum(value, 1e-3)) for value in steepness]
        a, b, c = (sigma**2 for sigma in _REBLURS)
        per_variance = (inverse[1] - inverse[0]) / (b - a)
        variance = inverse[0] / per_variance - a
        bend = (inverse[2] - inverse[1]) / (c - b) / per_variance
    clean = (np.abs(bend - 1) < _STEP_TOLERANCE) & (per_variance > 0)
    spread = np.sqrt(np.clip(variance[clean], 0.04, 400))
    angle = np.arctan2(sine[clean], cosine[clean])
    direction = np.round(angle / (np.pi / DIRECTIONS)).astype(int) % DIRECTIONS
    return direction, spread


def _slopes(strip: np.ndarray, sigma: float) -> tuple[np.ndarray, np.ndarray]:
    blurred = cv2.GaussianBlur(strip, (0, 0), sigma)
    return (cv2.Sobel(blurred, cv2.CV_32F, 1, 0, ksize=1, scale=0.5),
            cv2.Sobel(blurred, cv2.CV_32F, 0, 1, ksize=1, scale=0.5))


def _ridge(gx: np.ndarray, gy: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pixels away from tile borders where the slope is steep and larger than at
    the two neighbours along its own direction."""
    steep = np.hypot(gx, gy)
    rows = np.arange(steep.shape[0]) % _TILE
    inside = steep > _LEAST_SLOPE
    inside[(rows < _MARGIN) | (rows >= _TILE - _MARGIN)] = False
    inside[:, :_MARGIN] = inside[:, -_MARGIN:] = False
    y, x = np.nonzero(inside)
    step = np.round(np.stack([gy[y, x], gx[y, x]]) / steep[y, x]).astype(int)
    here = steep[y, x]
    ridge = (here >= steep[y + step[0], x + step[1]]) & (here > steep[y - step[0], x - step[1]])
    return y[ridge], x[ridge]
