"""Ten kinds of copies of a photo, each from mild to strong (``strength`` 0 to 1)."""

from __future__ import annotations

import cv2
import numpy as np


def _saved(picture: np.ndarray, quality: float) -> np.ndarray:
    return cv2.imdecode(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, int(quality)])[1], 1)


def _scaled(picture: np.ndarray, part: float) -> np.ndarray:
    return cv2.resize(picture, None, fx=part, fy=part, interpolation=cv2.INTER_AREA)


def saved_anew(picture, strength, rng):
    return _saved(picture, 90 - 60 * strength)


def resized(picture, strength, rng):
    return _saved(_scaled(picture, 0.9 - 0.62 * strength), 85)


def cut_evenly(picture, strength, rng):
    return _cut(picture, 0.03 + 0.27 * strength, 0.5, 0.5)


def cut_unevenly(picture, strength, rng):
    return _cut(picture, 0.03 + 0.27 * strength, *rng.choice([0.0, 1.0], 2))


def _cut(picture, part, x, y):
    height, width = picture.shape[:2]
    top, left = round(height * part * y), round(width * part * x)
    cut = picture[top : top + round(height * (1 - part)), left : left + round(width * (1 - part))]
    return _saved(np.ascontiguousarray(cut), 85)


def turned(picture, strength, rng):
    height, width = picture.shape[:2]
    degrees = (1 + 9 * strength) * rng.choice([-1, 1])
    matrix = cv2.getRotationMatrix2D((width / 2, height / 2), degrees, 1.05 + 0.15 * strength)
    return _saved(cv2.warpAffine(picture, matrix, (width, height)), 85)


def mirrored(picture, strength, rng):
    return _saved(np.ascontiguousarray(picture[:, ::-1]), 90 - 40 * strength)


def brightened(picture, strength, rng):
    light = np.power(np.arange(256) / 255, 1 - 0.45 * strength) * 255 * (1 + 0.2 * strength)
    return _saved(cv2.LUT(picture, np.clip(light, 0, 255).astype(np.uint8)), 85)


def blurred_with_noise(picture, strength, rng):
    soft = cv2.GaussianBlur(picture, (0, 0), 0.6 + 1.8 * strength).astype(np.float32)
    return _saved(np.clip(soft + rng.normal(0, 2 + 6 * strength, soft.shape), 0, 255).astype(np.uint8), 85)


def screen_photographed(picture, strength, rng):
    """A raster of coloured stripes, a slant, a gamma of its own and a second camera's noise."""
    fine = cv2.resize(picture, (1920, round(1920 * picture.shape[0] / picture.shape[1])))
    raster = np.ones((1, 3, 3), np.float32) * 0.6
    raster[0, range(3), range(3)] = 1.25
    big = np.repeat(np.repeat(fine, 2, 0), 2, 1).astype(np.float32)
    tiles = np.tile(raster, (big.shape[0], -(-big.shape[1] // 3), 1))[:, : big.shape[1]]
    seen = _slanted(np.clip(big * tiles, 0, 255).astype(np.uint8), 0.02 + 0.08 * strength, rng)
    return _second_camera(seen, 0.8 + 0.6 * strength, 2 + 2 * strength, rng)


def print_photographed(picture, strength, rng):
    """Ink narrows the tones, the screen's dots and paper's grain add, a lamp falls from one side."""
    small = _scaled(picture, 1400 / max(picture.shape[:2]))
    inked = 40 + small.astype(np.float32) * (0.75 - 0.15 * strength)
    inked += rng.normal(0, 2 + 5 * strength, small.shape[:2])[..., None]
    ramp = np.linspace(1.08, 0.9 - 0.1 * strength, small.shape[1])[None, :, None]
    seen = _slanted(np.clip(inked * ramp, 0, 255).astype(np.uint8), 0.02 + 0.08 * strength, rng)
    return _second_camera(seen, 0.8 + 0.9 * strength, 2 + 3 * strength, rng)


def _slanted(picture, by, rng):
    height, width = picture.shape[:2]
    corners = np.float32([[0, 0], [width, 0], [width, height], [0, height]])
    inward = rng.uniform(0, by, (4, 2)) * (width, height) * ((1, 1), (-1, 1), (-1, -1), (1, -1))
    matrix = cv2.getPerspectiveTransform((corners + inward).astype(np.float32), corners)
    return cv2.warpPerspective(picture, matrix, (width, height), flags=cv2.INTER_AREA)


def _second_camera(picture, blur, noise, rng):
    seen = cv2.GaussianBlur(_scaled(picture, 1800 / max(picture.shape[:2])), (0, 0), blur)
    return _saved(np.clip(seen + rng.normal(0, noise, seen.shape), 0, 255).astype(np.uint8), 88)


KINDS = {
    each.__name__: each
    for each in (saved_anew, resized, cut_evenly, cut_unevenly, turned, mirrored, brightened,
                 blurred_with_noise, screen_photographed, print_photographed)
}  # fmt: skip
