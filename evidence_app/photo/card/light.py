"""What the card tells about light: tone curve, light over the picture, edge spread.

A camera's grey level is taken as sharpen(curve(light)): ``curve`` is the sRGB curve of
IEC 61966-2-1 with an S of one weight, found from the grey patches; ``sharpen`` adds a
multiple of the difference to a blurred copy, found together with the blur of lens and
sensor from the horizontal marker edges. Both can then be undone, so that what is left
of an edge is a Gaussian in linear light.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from msgspec import Struct
from scipy.special import ndtr

from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.card.pose import Pose, card_edges, grey_at
from evidence_app.photo.refusal import CannotMeasure

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

_TABLE = 4096
_LIGHT = np.linspace(0, 1, 4 * _TABLE)
_WHITE = 253.0  # grey level from which paper is taken as clipped
_LEAST_PAPER = 45.0
# Relative error of a patch's light (grey levels are whole numbers), light that matt paper
# mirrors, and weight of the S, as far as they are known beforehand.
_PATCH_U, _MIRRORED_U, _CONTRAST_U = 0.008, 0.008, 0.2
_MOST_MISFIT = 0.03  # good practice photos stay below 0.012, glare begins at 0.04

# Blank paper on the card: (x0, y0, x1, y1) in mm.
_BLANK = [
    (x, y - 0.5, x + 5, y + 0.5)
    for y in (-15.4, -11.6, -1.7, 15.4)
    for x in (-29.5, -18, -6.5, 5, 16, 24.5)
]
_BLANK += [(x, y, x + 1.4, y + 4) for x in (-45.2, -32.2, 30.8, 43.8) for y in (-12, -6, 4, 9)]


def linear_to_srgb(linear: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1, 0 to 1 in and out."""
    linear = np.asarray(linear, float)
    return np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0.0031308) ** (1 / 2.4) - 0.055
    )


class Tone(Struct, frozen=True, eq=False):
    """``contrast`` is the weight of the S; ``misfit`` the root mean square relative
    error of the patches' light after the fit."""

    contrast: float
    misfit: float

    def encode(self, linear: np.ndarray) -> np.ndarray:
        """Light to grey, both 0 to 1."""
        plain = linear_to_srgb(np.clip(linear, 0, 1))
        return plain + self.contrast * (plain * plain * (3 - 2 * plain) - plain)

    def linear(self, grey: np.ndarray) -> np.ndarray:
        """Grey to light, both 0 to 1."""
        return np.interp(grey, self.encode(_LIGHT), _LIGHT)

    def linear_picture(self, grey: np.ndarray) -> np.ndarray:
        """The same for many pixels, float32, in steps of 1/4096."""
        table = self.linear(np.arange(_TABLE + 1) / _TABLE).astype(np.float32)
        at = np.clip(grey, 0, 1) * np.float32(_TABLE) + np.float32(0.5)
        return table[at.astype(np.uint16)]


class EdgeFit(Struct, frozen=True):
    """Blur of lens and sensor and the sharpening after it, in pixels across the
    horizontal edges; ``blur_u`` is the standard uncertainty of the blur."""

    blur: float
    blur_u: float
    sharpened: float
    radius: float
    left: float  # standard deviation of the blur at the card's left third
    right: float

    def blur_at(self, x: np.ndarray) -> np.ndarray:
        """Standard deviation of the blur at x mm: it changes evenly from left to right."""
        return self.left + np.clip((x + 38) / 76, 0, 1) * (self.right - self.left)


class CardLight(Struct, frozen=True, eq=False):
    tone: Tone
    edge: EdgeFit
    level: np.ndarray  # (5,) polynomial of the light over x and y, see level_at

    def level_at(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Light that a surface of reflectance 1 sends, at places in mm."""
        return _design(x, y) @ self.level

    def unsharpened(self, luma: np.ndarray) -> np.ndarray:
        """Grey 0 to 1, float32, with the camera's sharpening undone."""
        given = luma.astype(np.float32) / np.float32(255)
        weight = self.edge.sharpened
        if weight < 0.02:
            return given
        plain: np.ndarray = given
        for _ in range(6):  # a contraction by weight / (1 + weight)
            soft = cv2.GaussianBlur(plain, (0, 0), self.edge.radius)
            plain = cv2.addWeighted(given, 1 / (1 + weight), soft, weight / (1 + weight), 0)
        return plain


def read_light(luma: np.ndarray, pose: Pose) -> CardLight:
    """Raises CannotMeasure when the card is too dark or too bright to be used."""
    blank = [_mean_grey(luma, pose, box) for box in _BLANK]
    paper = float(np.median(blank))
    if paper < _LEAST_PAPER:
        raise CannotMeasure("card", "too dark")
    if paper > _WHITE or float(np.mean(np.array(blank) > _WHITE)) > 0.1:
        raise CannotMeasure("card", "too bright")
    tone = _tone(luma, pose)
    level = _level(tone, np.array(blank) / 255)
    return CardLight(tone, _edge(luma, pose, tone), level)


def _mean_grey(luma: np.ndarray, pose: Pose, box: tuple[float, float, float, float]) -> float:
    x0, y0, x1, y1 = box
    along, across = pose.pixels_per_mm((x0 + x1) / 2, (y0 + y1) / 2)
    columns = int(np.clip((x1 - x0) * along / 2, 4, 60))
    rows = int(np.clip((y1 - y0) * across / 2, 4, 60))
    x, y = np.meshgrid(np.linspace(x0, x1, columns), np.linspace(y0, y1, rows))
    u, v = pose.to_pixels(x, y)
    return float(grey_at(luma, u, v).mean())


def _tone(luma: np.ndarray, pose: Pose) -> Tone:
    """The weight of the S and the light mirrored by the card, from the patches, each
    against the paper above and below it."""
    layout = card_layout()
    patch_grey, paper_grey, reflectance = [], [], []
    for patch in layout.patches:
        left, right = patch.x - 0.35 * patch.width, patch.x + 0.35 * patch.width
        half, out = 0.35 * patch.height, patch.height / 2 + 1.2
        patch_grey.append(_mean_grey(luma, pose, (left, patch.y - half, right, patch.y + half)))
        beside = [
            _mean_grey(luma, pose, (left, y - 0.4, right, y + 0.4)) for y in (patch.y - out, patch.y + out)
        ]
        paper_grey.append(np.mean(beside))
        reflectance.append(patch.reflectance)
    patches, papers = np.array(patch_grey) / 255, np.array(paper_grey) / 255
    expected = np.array(reflectance)

    def misfit(values: np.ndarray) -> np.ndarray:
        contrast, mirrored = values
        tone = Tone(contrast, 0.0)
        share = tone.linear(patches) / tone.linear(papers)
        wanted = (expected + mirrored) / (layout.print.paper + mirrored)
        # A patch counts by its relative error, the blackest less (stray light).
        return np.append(
            (share - wanted) / (wanted + 0.03) / _PATCH_U,
            [(mirrored - 0.005) / _MIRRORED_U, (contrast - 0.1) / _CONTRAST_U],
        )

    best = _least_squares(misfit, [0.1, 0.005], bounds=([-0.6, 0.0], [0.9, 0.1]), diff_step=1e-3)
    left = _PATCH_U * float(np.sqrt(np.mean(best.fun[:-2] ** 2)))
    if left > _MOST_MISFIT:
        raise CannotMeasure("card", "patches")
    return Tone(float(best.x[0]), left)


def _design(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    x, y = np.asarray(x, float) / 40, np.asarray(y, float) / 20
    return np.stack([np.ones_like(x), x, y, x * x, x * y], axis=-1)


def _level(tone: Tone, blank: np.ndarray) -> np.ndarray:
    middle = np.array([((x0 + x1) / 2, (y0 + y1) / 2) for x0, y0, x1, y1 in _BLANK])
    light = tone.linear(blank) / card_layout().print.paper
    design = _design(middle[:, 0], middle[:, 1])
    weight = np.ones(len(light))
    level = np.zeros(5)
    for _ in range(4):  # spots that are dirty or under glare count little
        level, *_ = np.linalg.lstsq(weight[:, None] * design, weight * light, rcond=None)
        error = np.abs(light - design @ level) / np.median(light)
        weight = 1 / np.maximum(1, error / 0.02)
    return level


def _edge(luma: np.ndarray, pose: Pose, tone: Tone) -> EdgeFit:
    """Fit of blurred, encoded and sharpened steps to the mean of the horizontal edges."""
    offsets, grey = card_edges(luma, pose)
    horizontal = [index for index in range(16) if index % 4 in (0, 2)]
    mean = np.array([np.median(grey[index], axis=0) for index in horizontal]) / 255
    blur, sharpened, radius, spread = _fit_edge(offsets, mean, tone)
    sides = []
    for left in (True, False):
        mine = [
            row
            for row, index in zip(mean, horizontal, strict=True)
            if (card_layout().markers.at[index // 4].x < 0) == left
        ]
        sides.append(_fit_edge(offsets, np.array(mine), tone, (sharpened, radius))[0])
    differs = abs(sides[0] - sides[1]) / 4
    return EdgeFit(blur, float(np.hypot(spread, np.hypot(0.04 * blur, differs))), sharpened, radius, *sides)


def _fit_edge(
    offsets: np.ndarray, mean: np.ndarray, tone: Tone, known: tuple[float, float] | None = None
) -> tuple[float, float, float, float]:
    """Blur, weight and radius of the sharpening, and the blur's standard error, from
    profiles (N, M) that rise from black to paper."""
    low = mean[:, :5].mean(axis=1, keepdims=True)
    high = mean[:, -5:].mean(axis=1, keepdims=True)
    dark, bright = tone.linear(low), tone.linear(high)
    fine = np.arange(-14, 14.01, 0.25)
    apart = np.subtract.outer(fine, fine)

    def model(values: np.ndarray) -> np.ndarray:
        blur, shift, weight, radius = values
        light = dark + (bright - dark) * ndtr((fine - shift) / blur)
        plain = tone.encode(light)
        kernel = np.exp(-0.5 * (apart / radius) ** 2)
        soft = plain @ (kernel / kernel.sum(axis=1, keepdims=True)).T
        made = np.clip(plain + weight * (plain - soft), 0, 1)
        return np.array([np.interp(offsets, fine, row) for row in made])

    def misfit(values: np.ndarray) -> np.ndarray:
        full = values if known is None else np.array([values[0], values[1], *known])
        return (model(full) - mean).ravel()

    start, low_bound, high_bound = [1.0, 0.0, 0.3, 1.2], [0.3, -3, 0.0, 0.7], [8, 3, 1.5, 2.5]
    count = 4 if known is None else 2
    best = _least_squares(
        misfit,
        start[:count],
        bounds=(low_bound[:count], high_bound[:count]),
        diff_step=1e-4,
        xtol=1e-5,
        ftol=1e-6,
    )
    values = [*best.x, *(known or ())]
    inverse = np.linalg.pinv(best.jac.T @ best.jac)
    error = np.sqrt(inverse[0, 0] * 2 * best.cost / max(1, best.fun.size - count) * 8)
    return float(values[0]), float(values[2]), float(values[3]), float(error)


def _least_squares(
    misfit: Callable[[np.ndarray], np.ndarray], start: Sequence[float], **options: Any
) -> OptimizeResult:
    """scipy's, loaded when the first card is measured: that takes longer than to start the app."""
    from scipy.optimize import least_squares

    return least_squares(misfit, start, **options)
