"""The outline of a strip with fully rounded ends: two straight sides and two half circles.

Lengths in mm, angles in radians, in the coordinates of the scale card.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct

PARAMETERS = 5  # x, y, lean, length, width


class Stadium(Struct, frozen=True):
    """``x``, ``y`` is its middle, ``lean`` turns its axis from the card's x axis to its y
    axis; ``length`` is over all, ends included."""

    x: float
    y: float
    lean: float
    length: float
    width: float

    @property
    def radius(self) -> float:
        return self.width / 2

    @property
    def straight(self) -> float:
        """Half the length of the straight sides."""
        return max(0.0, (self.length - self.width) / 2)

    @property
    def axes(self) -> tuple[np.ndarray, np.ndarray]:
        """Unit vectors along and across."""
        cosine, sine = np.cos(self.lean), np.sin(self.lean)
        return np.array([cosine, sine]), np.array([-sine, cosine])

    def own(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Coordinates along and across of points (..., 2)."""
        along, across = self.axes
        from_middle = points - (self.x, self.y)
        return from_middle @ along, from_middle @ across

    def place(self, along: np.ndarray, across: np.ndarray) -> np.ndarray:
        """Points (..., 2) at own coordinates."""
        first, second = self.axes
        along, across = np.asarray(along), np.asarray(across)
        return np.array([self.x, self.y]) + along[..., None] * first + across[..., None] * second

    def distance(self, points: np.ndarray) -> np.ndarray:
        """Signed distance to the outline, negative inside."""
        along, across = self.own(points)
        return np.hypot(np.maximum(np.abs(along) - self.straight, 0), across) - self.radius

    def stations(
        self, step: float, end_step: float, fold: int = 1
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Points (N, 2) about the outline, outward normals (N, 2), and the part (N,) each
        lies on: 0 and 2 are the sides across (below and above 0), 1 and 3 the ends along
        (above and below 0). In the order of the parts, about every ``step`` mm on the sides
        and ``end_step`` at the ends, each station made of ``fold`` points."""
        count = fold * max(2, round(2 * self.straight / step))
        turns = fold * 2 * max(3, round(np.pi * self.radius / end_step / 2))
        side = ((np.arange(count) + 0.5) / count * 2 - 1) * self.straight
        turn = (np.arange(turns) + 0.5) / turns * np.pi - np.pi / 2
        zero = np.zeros(count)
        end = np.full(turns, self.straight)
        out_along = np.concatenate([zero, np.cos(turn), zero, -np.cos(turn)])
        out_across = np.concatenate([zero - 1, np.sin(turn), zero + 1, -np.sin(turn)])
        along = np.concatenate([side, end, -side, -end]) + self.radius * out_along
        across = self.radius * out_across
        first, second = self.axes
        normal = out_along[:, None] * first + out_across[:, None] * second
        part = np.repeat([0, 1, 2, 3], [count, turns, count, turns])
        return self.place(along, across), normal, part

    def grown(self, by: float) -> Stadium:
        return Stadium(self.x, self.y, self.lean, self.length + 2 * by, self.width + 2 * by)

    def vector(self) -> np.ndarray:
        return np.array([self.x, self.y, self.lean, self.length, self.width])

    def slopes(self, points: np.ndarray) -> np.ndarray:
        """How ``distance`` follows the five parameters, (N, 5), analytically."""
        along, across = self.own(points)
        beyond = np.sign(along) * np.maximum(np.abs(along) - self.straight, 0)
        far = np.maximum(np.hypot(beyond, across), 1e-9)
        n_along, n_across = beyond / far, across / far
        first, second = self.axes
        # A shift of the middle moves every own coordinate the other way; turning by d moves
        # (along, across) by (across d, -along d); a longer straight part moves the ends out.
        by_length = -0.5 * np.abs(n_along)
        return np.column_stack(
            [
                -(n_along * first[0] + n_across * second[0]),
                -(n_along * first[1] + n_across * second[1]),
                n_along * across - n_across * along,
                by_length,
                -0.5 - by_length,
            ]
        )


def stadium_of(vector: np.ndarray) -> Stadium:
    return Stadium(*(float(v) for v in vector))


class StadiumFit(Struct, frozen=True, eq=False):
    """``off`` (N,) is each point's distance from the outline; ``pull`` (5, N) how the
    parameters follow small moves of the points outward; ``good`` (N,) the points used."""

    outline: Stadium
    off: np.ndarray
    pull: np.ndarray
    good: np.ndarray


def fit_stadium(
    points: np.ndarray, u: np.ndarray, start: Stadium, reject: float = 3.5, least: float = 0.02
) -> StadiumFit:
    """The stadium with the least weighted squares of distances to points (N, 2) whose
    standard uncertainties along the normal are ``u`` (N,).

    Gauss and Newton with Huber weights; then points farther off than ``reject`` times the
    spread and ``least`` mm are left out and it is fitted again. Raises LinAlgError where
    the points do not fix an outline.
    """
    good = np.ones(len(points), bool)
    outline = start
    for _ in range(2):
        outline = _fitted(points[good], u[good], outline)
        off = outline.distance(points)
        spread = 1.4826 * float(np.median(np.abs(off)))
        good = np.abs(off) < max(reject * spread, least)
    outline = _fitted(points[good], u[good], outline)
    slopes = -outline.slopes(points[good])
    weight = 1 / u[good] ** 2
    pull = np.zeros((PARAMETERS, len(points)))
    pull[:, good] = np.linalg.solve(slopes.T @ (weight[:, None] * slopes), slopes.T * weight)
    return StadiumFit(outline, outline.distance(points), pull, good)


def _fitted(points: np.ndarray, u: np.ndarray, outline: Stadium) -> Stadium:
    if len(points) < 4 * PARAMETERS:
        raise np.linalg.LinAlgError("too few points for an outline")
    for _ in range(12):
        off = outline.distance(points)
        slopes = outline.slopes(points)
        spread = 1.4826 * float(np.median(np.abs(off))) + 1e-6
        weight = 1 / u**2 / np.maximum(1, np.abs(off) / (2 * spread))
        move = np.linalg.solve(slopes.T @ (weight[:, None] * slopes), -slopes.T @ (weight * off))
        move = np.clip(move, -1.0, 1.0)
        outline = stadium_of(outline.vector() + move)
        if np.abs(move).max() < 1e-7:
            break
    return outline
