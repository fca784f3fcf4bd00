"""How wide the edges of a photo are, direction by direction.

A sharp step seen through a blur of standard deviation s has, at its steepest
point, a slope proportional to 1/s. Blurring it again by a known amount b changes
that slope by sqrt((s^2 + b^2) / s^2) (the variances of Gaussians add), so s
follows from the ratio of two slopes whatever the contrast of the edge: the
re-blur measure. Three re-blurs give one equation more than there are unknowns;
an edge that does not satisfy it is a thin line, a corner or two edges side by
side, and is not used.

A shake of length L adds L^2/12 to the variance along itself and nothing across, so
the variance is fitted as a constant and a wave of twice the angle of the edge.

Only small tiles with the best edges of every part of the picture are looked at, and
only the sharp end of what is found counts: a blurred background must not condemn a
sharp subject.
"""

import cv2
import numpy as np
from msgspec import Struct

RISE_PER_SPREAD = 2.563  # 10 to 90 percent rise of a Gaussian edge over its spread

_TILE = 64
_AT_ONCE = 12  # tiles in a column: all that is made of them stays in a processor's cache
_MARGIN = 10
_SEARCH_SCALE = 8  # the best tiles are sought on a copy smaller by this
_REGIONS = (6, 6)  # rows, columns of the picture, each giving its best tile
_LEAST_SLOPE = 2.5  # grey levels per pixel at the first re-blur
_LEAST_STEP = 20.0  # grey levels from one side of an edge to the other
_BEND = (0.6, 1.2)  # a step bends by 1, a thin line by more
# A slope taken as half the difference of two neighbours is the true slope through a
# box two pixels wide, whose variance is 2^2 / 12.
_DIFFERENCE_VARIANCE = 1 / 3

_BINS = 8  # of the edge normal's angle, over 180 degrees
_LEAST_EDGES = 12  # in a bin
_ENOUGH_EDGES = 60  # half trust in a bin
_STIFFNESS = 0.2  # pulls the directional part to 0 where directions are missing
_SHARP_END = 20  # percentile of the edge spreads that stands for a bin


class EdgeSpread(Struct, frozen=True):
    """Standard deviations of the edge spread in pixels, in the sharpest and in the
    softest direction."""

    sharpest: float
    softest: float

    @property
    def smear(self) -> float:
        """Length in pixels of the straight, even shake that explains the difference."""
        return float(np.sqrt(12 * max(0.0, self.softest**2 - self.sharpest**2)))


Tiles = list[tuple[int, int]]


def edge_spread(luma: np.ndarray, tiles: Tiles, reblurs: tuple[float, float, float]) -> EdgeSpread | None:
    """Edge spread of ``luma`` (H, W) uint8 on tiles of it, named by their corners (y, x).

    ``reblurs`` are the three known blurs, smallest first: standard deviations in pixels,
    best between a half and twice the spreads that must be told apart. None where the
    picture has too few clean edges to tell.
    """
    corners = [
        (y, x)
        for y, x in tiles
        if y >= 0 and x >= 0 and y + _TILE <= luma.shape[0] and x + _TILE <= luma.shape[1]
    ]
    if not corners:
        return None
    found = []
    for start in range(0, len(corners), _AT_ONCE):
        some = corners[start : start + _AT_ONCE]
        column = np.vstack([luma[y : y + _TILE, x : x + _TILE] for y, x in some])
        found.append(_variances(column.astype(np.float32), reblurs))
    return _fit(*(np.concatenate(values) for values in zip(*found, strict=True)))


def tiles_at(points: np.ndarray) -> Tiles:
    """The tiles about points (N, 2), x and y in pixels of the picture."""
    return [(round(y) - _TILE // 2, round(x) - _TILE // 2) for x, y in points.tolist()]


def best_tiles(search: np.ndarray) -> Tiles:
    """The tiles with the steepest edges, sought on a copy of the picture at 1/8 of its
    size: for each of four directions the best of every region."""
    side = _TILE // _SEARCH_SCALE
    rows, columns = search.shape[0] // side, search.shape[1] // side
    if not rows or not columns:
        return []
    gx = cv2.Sobel(search, cv2.CV_16S, 1, 0)[: rows * side, : columns * side]
    gy = cv2.Sobel(search, cv2.CV_16S, 0, 1)[: rows * side, : columns * side]
    region = (np.arange(rows) * _REGIONS[0] // rows)[:, None] * _REGIONS[1]
    region = (region + np.arange(columns) * _REGIONS[1] // columns).ravel()
    chosen: set[int] = set()
    for slope in (gx, gx + gy, gy, gx - gy):
        steepest = np.abs(slope).reshape(rows, side, columns, side).max(axis=(1, 3)).ravel()
        rising = np.argsort(steepest, kind="stable")
        best = np.full(_REGIONS[0] * _REGIONS[1], -1)
        best[region[rising]] = rising  # the last written, the steepest, stays
        chosen.update(best[best >= 0].tolist())
    return [(tile // columns * _TILE, tile % columns * _TILE) for tile in sorted(chosen)]


def _variances(column: np.ndarray, reblurs: tuple[float, float, float]) -> tuple[np.ndarray, np.ndarray]:
    """Angle of the normal and variance of the spread of every clean edge pixel in a
    column of tiles."""
    first, second, third = (cv2.GaussianBlur(column, (0, 0), sigma) for sigma in reblurs)
    places = _ridge(first)
    gx, gy = _slopes_at(first, places)
    length = np.hypot(gx, gy)
    cosine, sine = gx / length, gy / length
    # The slope at each re-blur, along the same normal; its inverse square is proportional
    # to the sum of the variances.
    along = [length]
    for blurred in (second, third):
        gx, gy = _slopes_at(blurred, places)
        along.append(np.maximum(gx * cosine + gy * sine, 1e-3))
    inverse = [1 / np.square(slope) for slope in along]
    a, b, c = (sigma**2 for sigma in reblurs)
    per_variance = np.maximum(inverse[1] - inverse[0], 1e-12) / (b - a)
    variance = inverse[0] / per_variance - a
    bend = (inverse[2] - inverse[1]) / (c - b) / per_variance
    step = np.sqrt(2 * np.pi * np.maximum(variance + a, 0)) * length
    clean = (bend > _BEND[0]) & (bend < _BEND[1]) & (step > _LEAST_STEP)
    variance = np.clip(variance[clean], 0, 400) - _DIFFERENCE_VARIANCE
    return np.arctan2(sine[clean], cosine[clean]), variance


def _slopes_at(column: np.ndarray, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Slopes along x and y, grey levels per pixel, at some places of a column of tiles."""
    flat = column.ravel()
    return ((flat[places + 1] - flat[places - 1]) / 2, (flat[places + _TILE] - flat[places - _TILE]) / 2)


def _ridge(column: np.ndarray) -> np.ndarray:
    """Places away from tile borders where the slope is steep and larger than at the two
    neighbours along its own direction. A place counts the pixels of the column row by row."""
    gx = cv2.Sobel(column, cv2.CV_32F, 1, 0, ksize=1, scale=0.5)
    gy = cv2.Sobel(column, cv2.CV_32F, 0, 1, ksize=1, scale=0.5)
    square = gx * gx
    square += gy * gy
    steep = (square > _LEAST_SLOPE**2).reshape(-1, _TILE, _TILE)
    steep[:, :_MARGIN] = steep[:, -_MARGIN:] = False
    steep[:, :, :_MARGIN] = steep[:, :, -_MARGIN:] = False
    places = np.flatnonzero(steep)
    gx, gy, square = gx.ravel()[places], gy.ravel()[places], square.ravel()
    here = square[places]
    per_length = 1 / np.sqrt(here)
    ahead = np.rint(gy * per_length).astype(np.intp) * _TILE
    ahead += np.rint(gx * per_length).astype(np.intp)
    return places[(here >= square[places + ahead]) & (here > square[places - ahead])]


def _fit(angle: np.ndarray, variance: np.ndarray) -> EdgeSpread | None:
    """Weighted least squares of ``mean + p cos 2t + q sin 2t`` through the bins."""
    which = np.rint(angle / (np.pi / _BINS)).astype(int) % _BINS
    rows, values, weights = [], [], []
    for index in range(_BINS):
        found = variance[which == index]
        if len(found) >= _LEAST_EDGES:
            turn = 2 * np.pi * index / _BINS
            rows.append((1.0, np.cos(turn), np.sin(turn)))
            values.append(np.percentile(found, _SHARP_END))
            weights.append(len(found) / (len(found) + _ENOUGH_EDGES))
    if not rows:
        return None
    design, weight = np.array(rows), np.array(weights)
    normal = design.T @ (weight[:, None] * design) + np.diag([1e-9, _STIFFNESS, _STIFFNESS])
    mean, p, q = np.linalg.solve(normal, design.T @ (weight * np.array(values)))
    wave = np.hypot(p, q)
    return EdgeSpread(float(np.sqrt(max(mean - wave, 0.0))), float(np.sqrt(max(mean + wave, 0.0))))
