"""Where a perforated strip lies beside the scale card, and the dark groove round it.

The holes are found first: many small round dark spots, close together, in a field with
rounded ends. Round that field the groove is sought on lines outward, in a picture in
which whatever is shorter than a hole's pitch along the outline has been filled, so that
holes are not taken for the groove.
"""

import cv2
import numpy as np
from msgspec import Struct
from scipy.spatial import cKDTree

from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.card.pose import Pose, grey_at
from evidence_app.photo.mesh.stadium import Stadium, fit_stadium
from evidence_app.photo.refusal import CannotMeasure

HALF_LENGTH_MM = 46.0
_NEAREST_MM, _FARTHEST_MM = 0.4, 18.0  # from the card's edge
_STEP_MM = 0.05
# A hole is darker than the mean of a square, or than what is left when spots of that size
# are filled: the mean finds fine patterns, filling finds holes beside the groove.
_AROUND_MM = 1.1
_DARKER, _DARKER_THAN_FILLED = 0.70, 0.60
_HOLE_AREA_MM2 = (0.008, 0.8)
_HOLE_FILL, _HOLE_ASPECT = 0.5, 2.2
_APART_MM = 2.0  # of neighbouring holes, at most
_LEAST_HOLES = 8
_PATTERN_ROUNDS, _PATTERN_OFF = 3, 0.2  # of the usual distance of neighbours
_MOST_UNEVEN = 0.07
_LEAST_ASPECT = 1.8  # of the field of holes

_LEAST_FIELD_MM = 0.6
_INSIDE_MM, _OUTSIDE_MM = 0.35, 2.6  # of the field's border, where the groove is sought
_LINE_MM = 0.02
_ALONG_MM = 0.08
_FILLED_MM = 0.75
_WIDEST_MM = 1.5
_LEAST_DIP = 0.06  # of the brighter side, in light
_LEAST_SEEN = 0.7  # of the outline


class Groove(Struct, frozen=True, eq=False):
    """First outlines of the strip and of its opening, good to about 0.1 mm, as they appear
    in the plane of the card's face; ``side`` is +1 below the card, -1 above it. ``holes``
    (N, 2) are the middles of the holes in mm."""

    strip: Stadium
    opening: Stadium
    side: int
    holes: np.ndarray


def find_groove(luma: np.ndarray, pose: Pose) -> Groove:
    """Raises CannotMeasure when there is no perforated strip with a groove round it."""
    fields = [(holes, side) for side in (1, -1) for holes in _fields(luma, pose, side)]
    if not fields:
        raise CannotMeasure("strip", "no mesh")
    refusal = CannotMeasure("strip", "no opening")
    for holes, side in sorted(fields, key=lambda each: -len(each[0])):
        try:
            return _groove(luma, pose, holes, side)
        except CannotMeasure as other:
            refusal = other
        except np.linalg.LinAlgError:
            pass
    raise refusal


def _fields(luma: np.ndarray, pose: Pose, side: int) -> list[np.ndarray]:
    """Middles (N, 2) of the holes of every long field of holes on one side of the card."""
    edge = card_layout().outline.height / 2
    x = np.arange(-HALF_LENGTH_MM, HALF_LENGTH_MM, _STEP_MM)
    y = side * np.arange(edge + _NEAREST_MM, edge + _FARTHEST_MM, _STEP_MM)
    u, v = pose.to_pixels(x[None, :], y[:, None])
    rows = pose.shown(u, v, 0.0).mean(axis=1) > 0.3
    if rows.sum() * _STEP_MM < 2.0:
        return []
    last = len(rows) - int(np.argmax(rows[::-1]))
    light = np.square(grey_at(luma, u[:last], v[:last]).astype(np.float32))
    around = round(_AROUND_MM / _STEP_MM) | 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (around, around))
    filled = cv2.morphologyEx(light, cv2.MORPH_CLOSE, disc)
    fields = []
    for dark in (light < _DARKER * cv2.blur(light, (around, around)), light < _DARKER_THAN_FILLED * filled):
        middles = _holes(dark.astype(np.uint8))
        if len(middles) >= _LEAST_HOLES:
            fields += _long_fields(middles, light.shape, x[0], y[0], side)
    return fields


def _long_fields(
    middles: np.ndarray, shape: tuple[int, int], x: float, y: float, side: int
) -> list[np.ndarray]:
    fields = []
    for group in _groups(middles, shape):
        points = np.column_stack([x + _STEP_MM * group[:, 0], side * (abs(y) + _STEP_MM * group[:, 1])])
        points = _in_pattern(points)
        if len(points) < _LEAST_HOLES or not _even(points):
            continue
        (_, size, _) = cv2.minAreaRect(points.astype(np.float32))
        if max(size) > _LEAST_ASPECT * min(size):
            fields.append(points)
    return fields


def _holes(dark: np.ndarray) -> np.ndarray:
    """Middles (N, 2) in columns and rows of the small round patches of a mask."""
    _, _, stats, middles = cv2.connectedComponentsWithStats(dark, connectivity=4)
    wide, high, area = (
        stats[:, i].astype(float) for i in (cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT, cv2.CC_STAT_AREA)
    )
    size = area * _STEP_MM**2
    small = (size > _HOLE_AREA_MM2[0]) & (size < _HOLE_AREA_MM2[1])
    round_ = (area > _HOLE_FILL * wide * high) & (
        np.maximum(wide, high) < _HOLE_ASPECT * np.minimum(wide, high)
    )
    return middles[small & round_]


def _groups(middles: np.ndarray, shape: tuple[int, int]) -> list[np.ndarray]:
    """The middles, grouped by which are near each other."""
    marked = np.zeros(shape, np.uint8)
    at = np.rint(middles).astype(int)
    marked[at[:, 1], at[:, 0]] = 1
    reach = round(_APART_MM / _STEP_MM) | 1
    joined = cv2.dilate(marked, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach)))
    count, labels = cv2.connectedComponents(joined)
    label = labels[at[:, 1], at[:, 0]]
    return [middles[label == number] for number in range(1, count)]


def _in_pattern(points: np.ndarray) -> np.ndarray:
    """Those of the middles (N, 2) that have a neighbour at the holes' usual distance and none
    nearer: specks in the groove and on the housing would widen the field."""
    for _ in range(_PATTERN_ROUNDS):
        if len(points) < _LEAST_HOLES:
            break
        apart = _apart(points)
        points = points[np.abs(apart / np.median(apart) - 1) < _PATTERN_OFF]
    return points


def _apart(points: np.ndarray) -> np.ndarray:
    """Of each of the middles (N, 2) how far its nearest neighbour is, (N,)."""
    return cKDTree(points).query(points, k=2)[0][:, 1]


def _even(points: np.ndarray) -> bool:
    """Whether neighbours are equally far apart; grains of a rough surface are not."""
    apart = _apart(points)
    return bool(np.std(apart) < _MOST_UNEVEN * np.median(apart))


def _groove(luma: np.ndarray, pose: Pose, holes: np.ndarray, side: int) -> Groove:
    field = _field_outline(holes)
    # A single row has no width of its own, and its ends would be seen on hardly any line.
    field = field.grown(max(0.0, (_LEAST_FIELD_MM - field.width) / 2))
    points, normal, _ = field.stations(_ALONG_MM, _ALONG_MM)
    t = np.arange(-_INSIDE_MM, _OUTSIDE_MM, _LINE_MM)
    x, y = np.moveaxis(points[:, None, :] + t[None, :, None] * normal[:, None, :], -1, 0)
    u, v = pose.to_pixels(x, y)
    if not pose.shown(u, v, 0.0)[:, t < 0.6].all():
        raise CannotMeasure("strip", "mesh outside")
    grey = grey_at(luma, u, v)
    light = np.square(cv2.blur(grey, (3, 3)).astype(np.float32) / 255)
    found = _dips(light, t)
    seen = found[:, 2] > _LEAST_DIP
    if seen.mean() < _LEAST_SEEN:
        raise CannotMeasure("strip", "no opening")
    strip, opening = (
        fit_stadium(
            points[seen] + found[seen, n, None] * normal[seen],
            np.full(int(seen.sum()), 0.05),
            field.grown(float(np.median(found[seen, n]))),
            least=0.05,
        )
        for n in (0, 1)
    )
    if min(strip.good.mean(), opening.good.mean()) < _LEAST_SEEN:
        raise CannotMeasure("strip", "no opening")
    return Groove(strip.outline, opening.outline, side, holes)


def _field_outline(holes: np.ndarray) -> Stadium:
    (x, y), size, turn = cv2.minAreaRect(holes.astype(np.float32))
    lean = np.radians(turn if size[0] >= size[1] else turn + 90)
    lean = (lean + np.pi / 2) % np.pi - np.pi / 2
    return Stadium(float(x), float(y), float(lean), float(max(size)), float(min(size)))


def _dips(light: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Where the darkest dip of every line begins and ends, in mm, and how deep it is as a
    share of its brighter side: (N, 3)."""
    filled = round(_FILLED_MM / _ALONG_MM) | 1
    wrapped = np.concatenate([light[-filled:], light, light[:filled]])
    plain = cv2.erode(cv2.dilate(wrapped, np.ones((filled, 1))), np.ones((filled, 1)))
    plain = plain[filled:-filled]
    before = np.maximum.accumulate(plain, axis=1)
    after = np.maximum.accumulate(plain[:, ::-1], axis=1)[:, ::-1]
    depth = np.minimum(before, after) - plain
    depth[:, t < -_INSIDE_MM / 2] = 0
    bottom = np.argmax(depth, axis=1)
    rows = np.arange(len(light))
    deepest = depth[rows, bottom]
    out = np.zeros((len(light), 3))
    for row in rows:
        line, low = plain[row], bottom[row]
        reach = round(_WIDEST_MM / _LINE_MM)
        inner = line[max(0, low - reach) : low + 1].max()
        outer = line[low : low + reach + 1].max()
        first = low - int(np.argmax((line[: low + 1] > (inner + line[low]) / 2)[::-1]))
        last = low + int(np.argmax(line[low:] > (outer + line[low]) / 2))
        out[row] = (
            t[min(first, len(t) - 1)],
            t[min(last, len(t) - 1)],
            deepest[row] / max(1e-4, max(inner, outer)),
        )
    return out
