"""Where each place of the reference is found in another photo of the same surface.

Surfaces at several depths (a rim and the floor of a channel) move differently when the
camera moves. So the frame is cut into small blocks, each is looked for in the photo in any
direction, and the shifts are gathered into *layers*: sets of blocks whose shifts change
evenly over the picture, as those of one flat surface do. Each layer then gets a smooth
field of its own, refined on finer blocks.
"""

from __future__ import annotations

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.photo.residue.view import Sight

_COARSE_MM = 0.1
BLOCK_MM = 2.2
_STRIDE_MM, _SEARCH_MM = 1.1, 1.5
_LEAST_SCORE = 0.45  # correlation of a block from which its shift is believed
_NEAR_MM = 0.14  # of a block's shift from its layer's
_LEAST_BLOCKS = 10
_MOST_LAYERS = 4
_MOST_STRETCH = 0.03
_CLUSTER = 6  # blocks that touch each other, from which a layer is believed there
_FINE_BLOCK_MM, _FINE_STRIDE_MM, _FINE_SEARCH_MM = 1.6, 0.8, 0.2
_DARK = 0.002


class CommonFrame(Struct, frozen=True):
    """Points every ``step`` mm from (x0, y0), on the card's plane of the reference."""

    x0: float
    y0: float
    step: float
    columns: int
    rows: int

    def points(self) -> tuple[np.ndarray, np.ndarray]:
        x = self.x0 + self.step * np.arange(self.columns)
        y = self.y0 + self.step * np.arange(self.rows)
        across, down = np.broadcast_arrays(x[None, :], y[:, None])
        return across, down

    def at(self, values: np.ndarray, places: np.ndarray) -> np.ndarray:
        """Of ``values`` on the points those next to ``places`` (N, 2) in mm that lie in it."""
        column, row = np.rint((places - (self.x0, self.y0)) / self.step).astype(int).T
        inside = (column >= 0) & (column < self.columns) & (row >= 0) & (row < self.rows)
        return values[row[inside], column[inside]]

    def coarser(self, step: float) -> CommonFrame:
        """The same area on fewer points."""
        share = self.step / step
        return CommonFrame(self.x0, self.y0, step, int(self.columns * share), int(self.rows * share))


class Layer(Struct, frozen=True, eq=False):
    """One surface. ``field`` (2, 6): the place in the photo's card plane, in mm, is
    (x, y) + field @ (1, x, y, x^2, xy, y^2); ``blocks`` (N, 2) are where it was
    seen."""

    field: np.ndarray
    blocks: np.ndarray

    def to(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        dx, dy = (
            f[0] + f[1] * x + f[2] * y + f[3] * x * x + f[4] * x * y + f[5] * y * y for f in self.field
        )
        return x + dx, y + dy


AS_HIGH_AS_CARD = Layer(np.zeros((2, 6)), np.empty((0, 2)))


def log_luminance(light: np.ndarray) -> np.ndarray:
    luminance = light @ np.array([0.0722, 0.7152, 0.2126], np.float32)  # ITU-R BT.709, BGR
    return cv2.log(np.maximum(luminance, np.float32(_DARK)))


def structure(light: np.ndarray, step: float, fine_mm: float = 0.12, wide_mm: float = 1.0) -> np.ndarray:
    """The logarithm of luminance between two scales: texture and edges, without the light."""
    log = log_luminance(light)
    fine = cv2.GaussianBlur(log, (0, 0), max(fine_mm / step, 0.5))
    return fine - cv2.GaussianBlur(log, (0, 0), wide_mm / step)


def find_layers(reference: Sight, photo: Sight, frame: CommonFrame) -> tuple[list[Layer], float]:
    """The surfaces that both photos show in an area, the largest first, and the share of the
    blocks with any texture that belong to one of them."""
    frame = frame.coarser(_COARSE_MM)
    x, y = frame.points()
    one = structure(reference.seen_at(x, y), frame.step)
    other = structure(photo.seen_at(x, y), frame.step)
    blind = blind_at(reference, photo, x, y)
    at, shift, score = match_blocks(one, other, blind, frame, BLOCK_MM, _STRIDE_MM, _SEARCH_MM)
    layers = layers_of(at, shift, score)
    return layers, sum(len(layer.blocks) for layer in layers) / max(1, len(at))


def blind_at(reference: Sight, photo: Sight, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Where (bool) nothing can be compared: card, clipped, outside of a picture."""
    return reference.on_card(x, y) | photo.on_card(x, y) | reference.white_at(x, y) | photo.white_at(x, y)


def refined(
    reference: Sight, photo: Sight, layer: Layer, frame: CommonFrame, blind: np.ndarray
) -> Layer | None:
    """A layer matched again on finer blocks outside of what is ``blind``, from where it was
    found; None when too few of them are found."""
    x, y = frame.points()
    one = structure(reference.seen_at(x, y), frame.step, 0.07, 0.6)
    other = structure(photo.seen_at(*layer.to(x, y)), frame.step, 0.07, 0.6)
    at, shift, score = match_blocks(
        one, other, blind, frame, _FINE_BLOCK_MM, _FINE_STRIDE_MM, _FINE_SEARCH_MM
    )
    good = score >= _LEAST_SCORE
    if good.sum() < _LEAST_BLOCKS:
        return None
    at, shift, score = at[good], shift[good], score[good]
    shift = shift + np.column_stack(layer.to(*at.T)) - at
    weight = score
    for _ in range(4):
        field = fit_field(at, shift, weight)
        off = np.hypot(*(_terms(*at.T) @ field.T - shift).T)
        spread = float(np.median(off)) + 1e-4
        weight = score / np.maximum(1, off / (2 * spread)) ** 2
    return Layer(field, at)


def match_blocks(
    one: np.ndarray,
    other: np.ndarray,
    blind: np.ndarray,
    frame: CommonFrame,
    block_mm: float,
    stride_mm: float,
    search_mm: float,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Middles (N, 2) of blocks, their shifts (N, 2) from ``one`` to ``other``, all in mm, and
    the normalised correlation (N,) there. Shifts are parts of a pixel, by parabolas."""
    size, stride, reach = (max(1, round(mm / frame.step)) for mm in (block_mm, stride_mm, search_mm))
    seen = cv2.blur((~blind).astype(np.float32), (size, size))
    places, shifts, scores = [], [], []
    for top in range(reach, frame.rows - size - reach, stride):
        for left in range(reach, frame.columns - size - reach, stride):
            if seen[top + size // 2, left + size // 2] < 0.9:
                continue
            block = one[top : top + size, left : left + size]
            area = other[top - reach : top + size + reach, left - reach : left + size + reach]
            match = cv2.matchTemplate(area, block, cv2.TM_CCOEFF_NORMED)
            _, best, _, (column, row) = cv2.minMaxLoc(match)
            if not 0 < column < 2 * reach or not 0 < row < 2 * reach:
                continue
            shifts.append(
                (
                    column + _vertex(match[row, column - 1 : column + 2]) - reach,
                    row + _vertex(match[row - 1 : row + 2, column]) - reach,
                )
            )
            places.append((left + (size - 1) / 2, top + (size - 1) / 2))
            scores.append(best)
    if not places:
        return np.empty((0, 2)), np.empty((0, 2)), np.empty(0)
    at = np.array(places) * frame.step + np.array([frame.x0, frame.y0])
    return at, np.array(shifts) * frame.step, np.array(scores)


def _vertex(three: np.ndarray) -> float:
    left, middle, right = (float(v) for v in three)
    bend = left - 2 * middle + right
    return 0.5 * (left - right) / bend if bend < -1e-9 else 0.0


def layers_of(at: np.ndarray, shift: np.ndarray, score: np.ndarray) -> list[Layer]:
    """Blocks gathered into flat surfaces, by random samples of three near blocks."""
    rng = np.random.default_rng(20260302)
    left = score >= _LEAST_SCORE
    layers: list[Layer] = []
    while left.sum() >= _LEAST_BLOCKS and len(layers) < _MOST_LAYERS:
        here, there = at[left], shift[left]
        near = _largest_flat(here, there, rng)
        if near is None:
            break
        index = np.flatnonzero(left)
        left[index[near]] = False
        near &= _clustered(here, near)
        if near.sum() >= _LEAST_BLOCKS:
            layers.append(Layer(fit_field(here[near], there[near]), here[near]))
    return layers


def _clustered(at: np.ndarray, near: np.ndarray) -> np.ndarray:
    """Of the blocks ``near`` those that touch enough others of them, as bool (N,)."""
    cell = np.round((at - at.min(axis=0)) / _STRIDE_MM).astype(int)
    grid = np.zeros(cell.max(axis=0)[::-1] + 1, np.uint8)
    grid[cell[near, 1], cell[near, 0]] = 1
    _, labels, stats, _ = cv2.connectedComponentsWithStats(grid, connectivity=8)
    large = stats[:, cv2.CC_STAT_AREA] >= _CLUSTER
    large[0] = False
    return large[labels[cell[:, 1], cell[:, 0]]]


def _largest_flat(at: np.ndarray, shift: np.ndarray, rng: np.random.Generator) -> np.ndarray | None:
    """Which of the blocks (bool, (N,)) lie on the largest flat surface."""
    best = None
    design = np.column_stack([np.ones(len(at)), at])
    for _ in range(200):
        first = rng.integers(len(at))
        around = np.flatnonzero(np.hypot(*(at - at[first]).T) < 14)
        if len(around) < 3:
            continue
        three = rng.choice(around, 3, replace=False)
        if abs(np.linalg.det(design[three])) < 4.0:
            continue
        plane = np.linalg.solve(design[three], shift[three])
        if np.abs(plane[1:]).max() > _MOST_STRETCH:
            continue
        near = np.hypot(*(design @ plane - shift).T) < _NEAR_MM
        if best is None or near.sum() > best.sum():
            best = near
    if best is None or best.sum() < _LEAST_BLOCKS:
        return None
    for _ in range(3):
        field = fit_field(at[best], shift[best])
        near = np.hypot(*(_terms(*at.T) @ field.T - shift).T) < _NEAR_MM
        if near.sum() < _LEAST_BLOCKS:
            return None
        best = near
    return best


def fit_field(at: np.ndarray, shift: np.ndarray, weight: np.ndarray | None = None) -> np.ndarray:
    """Field (2, 6) of shifts (N, 2) at places (N, 2), the bent terms held small where the
    blocks do not tell them."""
    middle = at.mean(axis=0)
    design = _terms(*(at - middle).T)
    weight = np.ones(len(at)) if weight is None else weight
    # Flat surfaces and good lenses bend a field by less than this (mm per mm squared). A surface
    # of a single row of blocks says nothing of the slope across it, which is then taken as none;
    # so little that no other field moves by it, or older results would not come out again.
    hold = np.diag([0, 1e-3, 1e-3, *[0.05 / 2e-4] * 3]) ** 2
    left = design.T @ (design * weight[:, None]) + hold
    local = np.linalg.solve(left, design.T @ (shift * weight[:, None])).T
    return np.array([_recentred(row, middle) for row in local])


def _recentred(f: np.ndarray, middle: np.ndarray) -> np.ndarray:
    a, b = middle
    return np.array(
        [
            f[0] - f[1] * a - f[2] * b + f[3] * a * a + f[4] * a * b + f[5] * b * b,
            f[1] - 2 * f[3] * a - f[4] * b,
            f[2] - 2 * f[5] * b - f[4] * a,
            f[3],
            f[4],
            f[5],
        ]
    )


def _terms(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return np.column_stack([np.ones(len(x)), x, y, x * x, x * y, y * y])
