"""The two edges of the groove round a strip, fitted to profiles across it.

The same model as for a seam (gap_fit): strip, a narrow band beside its edge, the groove,
the opening's wall where the camera looks onto it, a narrow band beside the rim, housing.
Light and shade change round the outline, so what a seam has in common is fitted for each
side and each quarter by itself. Profiles reach only so far into the strip that they end
before its holes.
"""

import cv2
import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from evidence_app.photo.card.light import CardLight
from evidence_app.photo.card.pose import Pose
from evidence_app.photo.gap.fit import GapFit, Prior, Profiles, fit_gaps
from evidence_app.photo.mesh.stadium import Stadium
from evidence_app.photo.refusal import CannotMeasure

_STATION_MM, _END_STATION_MM = 0.5, 0.25
_FOLD = 12
_STRIP_MM, _HOUSING_MM = 0.32, 0.45  # to be seen on either side of the groove
_LEAST_START_MM = 0.05
_MARGIN_PX = 3.0
GROUPS = 6
PARTS = ((0,), (1, 2), (3,), (4, 5))  # the groups of each side and of each end
# A wall seen aslant is dark at its foot and bright at its rim, so the fitted edge lies a
# share of its visible width too far in (practice scenes of the tuning seeds).
WALL_SHARE = 0.28


class Edges(Struct, frozen=True, eq=False):
    """Stations round the groove: ``points`` (N, 2) on it and outward ``normals``; the
    strip's edge lies ``inner`` mm and the opening's ``outer`` mm along the normal.
    ``wall`` (N,) is how much of the opening's wall is seen there, in mm; ``group`` (N,)
    numbers the stretch; ``cov`` (2N, 2N) is the covariance of inner, then outer edges from
    noise and from what each stretch has in common. ``contrast`` (N,) is how much darker the
    groove is than its darker side, whose reflectance is ``level`` (N,); ``white`` (N,) the
    share of clipped samples."""

    points: np.ndarray
    normals: np.ndarray
    inner: np.ndarray
    outer: np.ndarray
    wall: np.ndarray
    group: np.ndarray
    cov: np.ndarray
    misfit: np.ndarray
    contrast: np.ndarray
    level: np.ndarray
    white: np.ndarray

    @property
    def u(self) -> tuple[np.ndarray, np.ndarray]:
        """Standard uncertainty (N,) of the inner and of the outer edges along the normal."""
        both = np.sqrt(np.diag(self.cov))
        return both[: len(self.inner)], both[len(self.inner) :]

    @property
    def inner_points(self) -> np.ndarray:
        return self.points + self.inner[:, None] * self.normals

    @property
    def outer_points(self) -> np.ndarray:
        return self.points + self.outer[:, None] * self.normals


class _Laid(Struct, frozen=True, eq=False):
    """The groove straightened: ``light`` (N, M) reflectances at ``across`` (M,) mm."""

    points: np.ndarray
    normals: np.ndarray
    part: np.ndarray
    width: np.ndarray
    across: np.ndarray
    light: np.ndarray
    blur_mm: np.ndarray
    wall: np.ndarray
    white: np.ndarray


def fit_edges(
    luma: np.ndarray, pose: Pose, light: CardLight, strip: Stadium, opening: Stadium, depth_mm: float
) -> Edges:
    """Edges from outlines that are known to about a tenth of a mm, of an opening about
    ``depth_mm`` deep. Raises CannotMeasure when the groove is not whole in the picture,
    LinAlgError when nothing fits."""
    laid = _lay_out(luma, pose, light, strip, opening, depth_mm)
    group = _group(laid.part)
    use = (laid.across > -laid.width[:, None] / 2 - _STRIP_MM) & (
        laid.across < laid.width[:, None] / 2 + _HOUSING_MM
    )
    prior = _prior(float(np.median(laid.light[:, -3:])), light.edge.blur_u / light.edge.blur)
    count = len(laid.points)
    middle, width, misfit, contrast, level = (np.zeros(count) for _ in range(5))
    cov = np.zeros((2 * count, 2 * count))
    for number in range(GROUPS):
        mine = np.flatnonzero(group == number)
        start = np.column_stack([np.zeros(len(mine)), laid.width[mine]])
        fit = fit_gaps(
            Profiles(laid.light[mine], laid.across, laid.blur_mm[mine], laid.wall[mine], use[mine]),
            prior,
            start,
        )
        middle[mine], width[mine], misfit[mine] = fit.middle, fit.width, fit.misfit
        level[mine] = np.minimum(fit.before, fit.after)
        contrast[mine] = level[mine] - fit.darkness
        _spread(cov, mine, count, fit)
    return Edges(
        points=laid.points,
        normals=laid.normals,
        inner=middle - width / 2,
        outer=middle + width / 2 + WALL_SHARE * laid.wall,
        wall=laid.wall,
        group=group,
        cov=cov,
        misfit=misfit,
        contrast=contrast,
        level=level,
        white=laid.white,
    )


def _prior(housing: float, blur_u: float) -> Prior:
    """What is known of a groove in a housing of some reflectance, without a photo: its
    floor is dark but may be lit, its wall is of the housing's material and lit from aslant,
    the strip's edge may be bright from stamping, the rim a little rounded."""
    h = housing
    return Prior(
        np.array([0.0, 0.3 * h, 0.06, 0.15 * h, 0.08, 0.0, 0.5 * h]),
        np.array([np.hypot(0.05, blur_u), 0.3 * h, 0.05, 0.2 * h, 0.05, 0.08 * h, 0.15 * h]),
        np.array([-0.15, 0.0, 0.015, -0.3 * h, 0.015, -0.15 * h, 0.15 * h]),
        np.array([0.15, 1.5 * h, 0.20, 1.5 * h, 0.20, 0.15 * h, 0.9 * h]),
    )


def _group(part: np.ndarray) -> np.ndarray:
    """The sides whole, the ends in halves."""
    group = np.zeros(len(part), int)
    for number, first in ((0, 0), (1, 1), (2, 3), (3, 4)):
        mine = np.flatnonzero(part == number)
        group[mine] = first
        if number % 2:
            group[mine[len(mine) // 2 :]] = first + 1
    return group


def _spread(cov: np.ndarray, mine: np.ndarray, count: int, fit: GapFit) -> None:
    """Enter one stretch's covariance of inner (middle - width / 2) and outer edges."""
    for sign, first in ((-0.5, 0), (0.5, count)):
        slope = fit.middle_slope + sign * fit.common_slope
        for other, second in ((-0.5, 0), (0.5, count)):
            beside = fit.middle_slope + other * fit.common_slope
            block = slope @ fit.common_cov @ beside.T
            own = (
                fit.own_cov[:, 0, 0]
                + (sign + other) * fit.own_cov[:, 0, 1]
                + sign * other * fit.own_cov[:, 1, 1]
            )
            cov[np.ix_(first + mine, second + mine)] = block + np.diag(own)


def _lay_out(
    luma: np.ndarray, pose: Pose, light: CardLight, strip: Stadium, opening: Stadium, depth_mm: float
) -> _Laid:
    """Profiles centred between the two outlines, averaged over their stations."""
    between = Stadium(
        (strip.x + opening.x) / 2,
        (strip.y + opening.y) / 2,
        (strip.lean + opening.lean) / 2,
        (strip.length + opening.length) / 2,
        (strip.width + opening.width) / 2,
    )
    points, normals, part = between.stations(_STATION_MM, _END_STATION_MM, _FOLD)
    to_strip, to_opening = strip.distance(points), opening.distance(points)
    points = points - (to_strip + to_opening)[:, None] / 2 * normals
    width = np.maximum(to_strip - to_opening, _LEAST_START_MM)
    per_mm = max(pose.pixels_per_mm(between.x, between.y))
    reach = float(width.max()) / 2 + max(_STRIP_MM, _HOUSING_MM)
    across = np.arange(-reach, reach + 1e-9, 1 / per_mm)
    x, y = np.moveaxis(points[:, None, :] + across[None, :, None] * normals[:, None, :], -1, 0)
    u, v = pose.to_pixels(x, y)
    if not pose.shown(u, v, _MARGIN_PX).all():
        raise CannotMeasure("strip", "mesh outside")
    top, left = max(0, int(v.min()) - 12), max(0, int(u.min()) - 12)
    crop = luma[top : int(v.max()) + 14, left : int(u.max()) + 14]
    linear = light.tone.linear_picture(light.unsharpened(crop))
    map_u, map_v = (u - left).astype(np.float32), (v - top).astype(np.float32)
    seen: np.ndarray = cv2.remap(linear, map_u, map_v, cv2.INTER_LANCZOS4, borderMode=cv2.BORDER_REPLICATE)
    raw = cv2.remap(crop, map_u, map_v, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
    seen /= light.level_at(x, y).astype(np.float32)

    def folded(values: np.ndarray) -> np.ndarray:
        return values.reshape(len(values) // _FOLD, _FOLD, *values.shape[1:]).mean(axis=1)

    middles, out = folded(points), folded(normals)
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    return _Laid(
        points=middles,
        normals=out,
        part=part[::_FOLD],
        width=folded(width),
        across=across,
        light=folded(seen.astype(float)),
        blur_mm=_blur(pose, light, middles, out),
        wall=depth_mm * np.maximum(0, (lean_slopes(pose, middles) * out).sum(axis=1)),
        white=folded((raw >= 253).mean(axis=1)),
    )


def _blur(pose: Pose, light: CardLight, points: np.ndarray, normals: np.ndarray) -> np.ndarray:
    """Standard deviation (N,) of the blur along the normals, in mm."""
    ahead = pose.to_pixels(*(points + 0.25 * normals).T)
    behind = pose.to_pixels(*(points - 0.25 * normals).T)
    per_mm = 2 * np.hypot(ahead[0] - behind[0], ahead[1] - behind[1])
    return light.edge.blur_at(points[:, 0]) / per_mm


def lean_slopes(pose: Pose, points: np.ndarray, focal: float = 1.0) -> np.ndarray:
    """By how many mm the lines of sight to points (N, 2) move along x and along y for each
    mm of depth; with ``focal`` times the focal length that was found."""
    camera = replace(pose, focal=pose.focal * focal).eye
    return (points - camera[:2]) / -camera[2]
