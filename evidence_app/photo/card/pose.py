"""Where the scale card lies before the camera, to a small part of a pixel.

The model: a point X in mm of the card's face is seen at p = H X in units of the
picture's width from its middle, and drawn at ``middle + width * p (1 + k |p|^2)``.
Its nine numbers, and a common shift of all black borders (ink that spreads, a tone
curve that favours one side), are fitted to edge points on all sixteen marker sides.
"""

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.refusal import CannotMeasure

_POINTS = 48  # edge points on a side
_REACH = 7.0  # pixels to either side of an edge
_STEP = 0.5
_INSET = 0.10  # share of a side left out at each end
_MOST_RESIDUAL = 0.3  # pixels; flat practice cards stay below 0.1
_USUAL_FOCAL = 1.2  # picture widths; a phone's main camera has 0.75, its tele camera 2
_FOCAL_SPREAD = 0.35  # of the logarithm
_ORTHOGONAL = 2e-3  # how well the shape of the card is known from the fit


class Pose(Struct, frozen=True, eq=False):
    """``focal`` is in picture widths with its relative uncertainty."""

    homography: np.ndarray
    radial: float
    border_mm: float
    size: tuple[int, int]  # width, height in pixels
    focal: float
    focal_u: float

    def to_pixels(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Pixels of points in mm, any shape."""
        return _project(self.homography, self.radial, self.size, x, y)

    def pixels_per_mm(self, x: float, y: float) -> tuple[float, float]:
        """Local scale along the card's x and y axes."""
        u, v = self.to_pixels(np.array([x - 0.5, x + 0.5, x, x]), np.array([y, y, y - 0.5, y + 0.5]))
        return float(np.hypot(u[1] - u[0], v[1] - v[0])), float(np.hypot(u[3] - u[2], v[3] - v[2]))

    def shown(self, u: np.ndarray, v: np.ndarray, margin: float) -> np.ndarray:
        """Which pixels (bool, any shape) lie in the picture, ``margin`` from its border."""
        wide, high = self.size
        return (u > margin) & (u < wide - 1 - margin) & (v > margin) & (v < high - 1 - margin)

    @property
    def frame(self) -> tuple[np.ndarray, np.ndarray]:
        """Rotation (3, 3) and translation (mm) from the card to the camera."""
        return _frame(self.homography, self.focal)

    @property
    def eye(self) -> np.ndarray:
        """Where the camera stands, (3,) in mm; the last, down from the card, is negative."""
        rotation, translation = self.frame
        return -rotation.T @ translation

    @property
    def distance_mm(self) -> float:
        """From the camera to the card's middle along the line of sight."""
        return float(np.linalg.norm(self.frame[1]))

    @property
    def tilt_deg(self) -> float:
        """Between the camera's axis and the card's normal."""
        return float(np.degrees(np.arccos(np.clip(self.frame[0][2, 2], -1, 1))))

    def lean_deg(self, x: float, y: float) -> tuple[float, float]:
        """By how much the line of sight to a point leans along x and along y."""
        ray = np.array([x, y, 0.0]) - self.eye
        along_x, along_y = np.degrees(np.arctan2(ray[:2], ray[2]))
        return float(along_x), float(along_y)


def fit_pose(luma: np.ndarray, corners: np.ndarray) -> Pose:
    """Pose from the markers' rough corners (4, 4, 2). Raises CannotMeasure when the
    card's edges do not fit a flat card."""
    size = (luma.shape[1], luma.shape[0])
    x, y, normal_x, normal_y = _edge_points()
    flat = np.array([p for marker in card_layout().markers.at for p in card_layout().corners(marker)])
    seen = (corners.reshape(16, 2) - _middle(size)) / size[0]
    homography, _ = cv2.findHomography(flat, seen)
    if homography is None:
        raise CannotMeasure("card", "bent card")
    parameters = np.concatenate([homography.ravel()[:8], [0.0, 0.0]])
    for _ in range(2):  # again from better edges, because the first were sought askew
        u, v, across_u, across_v = _normals(parameters, size, x, y, normal_x, normal_y)
        offset = _edge_offsets(luma, u, v, across_u, across_v)
        parameters, residual = _fit(
            parameters, size, (x, y, normal_x, normal_y), (u + offset * across_u, v + offset * across_v)
        )
    if not residual < _MOST_RESIDUAL * max(1.0, size[0] / 4000):
        raise CannotMeasure("card", "bent card")
    homography = np.append(parameters[:8], 1.0).reshape(3, 3)
    focal, focal_u = _focal(homography)
    return Pose(homography, float(parameters[8]), float(parameters[9]), size, focal, focal_u)


def rough_pose(corners: np.ndarray, size: tuple[int, int]) -> Pose | None:
    """From the markers' rough corners (4, 4, 2) of a picture of ``size`` (width, height),
    through a lens of usual focal length that bends nothing; None when they are no card's."""
    flat = np.array([p for marker in card_layout().markers.at for p in card_layout().corners(marker)])
    homography, _ = cv2.findHomography(flat, (corners.reshape(16, 2) - _middle(size)) / size[0])
    if homography is None:
        return None
    return Pose(homography, 0.0, 0.0, size, _USUAL_FOCAL, _FOCAL_SPREAD)


def _middle(size: tuple[int, int]) -> np.ndarray:
    return np.array([(size[0] - 1) / 2, (size[1] - 1) / 2])


def _project(h: np.ndarray, radial: float, size: tuple[int, int], x, y):
    below = h[2, 0] * x + h[2, 1] * y + h[2, 2]
    p = (h[0, 0] * x + h[0, 1] * y + h[0, 2]) / below
    q = (h[1, 0] * x + h[1, 1] * y + h[1, 2]) / below
    stretch = size[0] * (1 + radial * (p * p + q * q))
    middle = _middle(size)
    return middle[0] + p * stretch, middle[1] + q * stretch


def _edge_points() -> tuple[np.ndarray, ...]:
    """Points in mm on all sides, (16, N) each, and the outward normals (16, 1)."""
    share = np.linspace(_INSET, 1 - _INSET, _POINTS)
    xs, ys, nx, ny = [], [], [], []
    for marker in card_layout().markers.at:
        corner = np.array(card_layout().corners(marker))
        for first, second in zip(corner, np.roll(corner, -1, axis=0), strict=True):
            points = first + share[:, None] * (second - first)
            outward = points.mean(axis=0) - (marker.x, marker.y)
            outward /= np.linalg.norm(outward)
            xs.append(points[:, 0])
            ys.append(points[:, 1])
            nx.append(outward[0])
            ny.append(outward[1])
    return np.array(xs), np.array(ys), np.array(nx)[:, None], np.array(ny)[:, None]


def _normals(parameters, size, x, y, normal_x, normal_y):
    """Pixels of the edge points and the unit vectors across the edges there."""
    homography = np.append(parameters[:8], 1.0).reshape(3, 3)
    shift = parameters[9]
    u, v = _project(homography, parameters[8], size, x + shift * normal_x, y + shift * normal_y)
    step = 0.05
    along_u, along_v = _project(
        homography,
        parameters[8],
        size,
        x - normal_y * step + shift * normal_x,
        y + normal_x * step + shift * normal_y,
    )
    along_u, along_v = along_u - u, along_v - v
    length = np.hypot(along_u, along_v)
    # A quarter turn of the direction along the edge, on the side of the outward normal.
    return u, v, along_v / length, -along_u / length


def grey_at(luma: np.ndarray, u: np.ndarray, v: np.ndarray, way: int = cv2.INTER_LINEAR) -> np.ndarray:
    """Grey levels at pixels (H, W); outside the picture those of its rim. ``way`` is OpenCV's."""
    return cv2.remap(luma, u.astype(np.float32), v.astype(np.float32), way, borderMode=cv2.BORDER_REPLICATE)


def edge_profiles(luma: np.ndarray, u, v, across_u, across_v) -> tuple[np.ndarray, np.ndarray]:
    """Offsets (M,) in pixels and grey levels (..., M) on lines across edges."""
    offsets = np.arange(-_REACH, _REACH + 1e-9, _STEP)
    map_u = u[..., None] + across_u[..., None] * offsets
    map_v = v[..., None] + across_v[..., None] * offsets
    shape = map_u.shape
    rows = (-1, shape[-1])
    flat = grey_at(luma, map_u.reshape(rows), map_v.reshape(rows), cv2.INTER_LANCZOS4)
    return offsets, flat.reshape(shape).astype(np.float32)


def card_edges(luma: np.ndarray, pose: Pose) -> tuple[np.ndarray, np.ndarray]:
    """Offsets and grey levels (16, N, M) across every marker side, 0 at the fitted edge."""
    parameters = np.concatenate([pose.homography.ravel()[:8], [pose.radial, pose.border_mm]])
    return edge_profiles(luma, *_normals(parameters, pose.size, *_edge_points()))


def _edge_offsets(luma, u, v, across_u, across_v) -> np.ndarray:
    """Where each profile crosses half of its light, in pixels from the guess; NaN where
    there is no clean edge."""
    offsets, grey = edge_profiles(luma, u, v, across_u, across_v)
    light = np.square(grey / 255)  # near enough to linear for a place that all sides share
    low = np.median(light[..., :6], axis=-1, keepdims=True)
    high = np.median(light[..., -6:], axis=-1, keepdims=True)
    share = (light - low) / np.maximum(high - low, 1e-6)
    above = share >= 0.5
    # The rise nearest to the guess.
    rises = ~above[..., :-1] & above[..., 1:]
    cost = np.where(rises, np.abs(offsets[:-1]), np.inf)
    first = np.argmin(cost, axis=-1)
    clean = np.isfinite(np.min(cost, axis=-1)) & ((high - low)[..., 0] > 0.05)
    left = np.take_along_axis(share, first[..., None], -1)[..., 0]
    right = np.take_along_axis(share, first[..., None] + 1, -1)[..., 0]
    part = (0.5 - left) / np.maximum(right - left, 1e-6)
    return np.where(clean, offsets[first] + _STEP * part, np.nan)


def _fit(parameters, size, edges, measured) -> tuple[np.ndarray, float]:
    """Gauss-Newton with Huber weights; the parameters and the residual's spread in pixels."""
    x, y, normal_x, normal_y = edges
    good = np.isfinite(measured[0])
    if good.sum(axis=1).min() < _POINTS // 3:
        raise CannotMeasure("card", "bent card")
    scale = np.array([*(np.abs(parameters[:8]) + 1e-4), 0.05, 0.05])

    def residuals(values: np.ndarray) -> np.ndarray:
        u, v, across_u, across_v = _normals(values, size, x, y, normal_x, normal_y)
        return ((measured[0] - u) * across_u + (measured[1] - v) * across_v)[good]

    spread = np.inf
    for _ in range(6):
        here = residuals(parameters)
        spread = 1.4826 * float(np.median(np.abs(here)))
        weight = 1 / np.maximum(1, np.abs(here) / (2 * spread + 1e-6))
        step = 1e-4 * scale
        slope = np.column_stack(
            [(residuals(parameters + step[i] * np.eye(10)[i]) - here) / step[i] for i in range(10)]
        )
        move, *_ = np.linalg.lstsq(
            np.sqrt(weight)[:, None] * slope * scale, -np.sqrt(weight) * here, rcond=None
        )
        parameters = parameters + move * scale
        if np.abs(move).max() < 1e-7:
            break
    # Nine in ten points: a card bent one way leaves half of its sides where they were.
    return parameters, float(np.quantile(np.abs(residuals(parameters)), 0.9)) / 1.645


def _frame(homography: np.ndarray, focal: float) -> tuple[np.ndarray, np.ndarray]:
    m = np.diag([1 / focal, 1 / focal, 1.0]) @ homography
    m = m * 2 / (np.linalg.norm(m[:, 0]) + np.linalg.norm(m[:, 1]))
    first = m[:, 0] / np.linalg.norm(m[:, 0])
    second = m[:, 1] - first * (first @ m[:, 1])
    second /= np.linalg.norm(second)
    return np.column_stack([first, second, np.cross(first, second)]), m[:, 2]


def _focal(homography: np.ndarray) -> tuple[float, float]:
    """Focal length in picture widths and its relative standard uncertainty: the usual
    one, corrected as far as the card's tilt shows it (its axes must come out at right
    angles and equally long)."""
    logs = np.linspace(-1.2, 1.2, 121)
    cost = []
    for log in logs:
        m = np.diag([np.exp(-log) / _USUAL_FOCAL, np.exp(-log) / _USUAL_FOCAL, 1.0]) @ homography
        a, b = m[:, 0], m[:, 1]
        total = a @ a + b @ b
        cost.append(
            (log / _FOCAL_SPREAD) ** 2
            + ((a @ a - b @ b) / total / _ORTHOGONAL) ** 2
            + (2 * (a @ b) / total / _ORTHOGONAL) ** 2
        )
    weight = np.exp(-0.5 * (np.array(cost) - min(cost)))
    mean = float((weight * logs).sum() / weight.sum())
    spread = float(np.sqrt((weight * (logs - mean) ** 2).sum() / weight.sum()))
    return float(_USUAL_FOCAL * np.exp(mean)), spread
