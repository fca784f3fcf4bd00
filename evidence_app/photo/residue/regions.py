"""The surfaces of the clean reference photo: what lies between its long strong edges.

A slot shows as a region that edges enclose. The reference alone decides where that is, so
nothing that sticks to a surface later can move the outline. Which way a region moves between two
photos is voted by the blocks that lie in it.
"""

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.photo.residue import register
from evidence_app.photo.residue.view import Sight

STEP_MM = 0.05
_GLANCE_MM = 0.15  # between the points on which the slot is looked for
_SLOT_MM2 = (40.0, 1000.0)  # what edges enclose: more than the head of a screw, less than the housing
_AROUND_MM = 5.0  # of the rim that is judged round the slot
_WIDEST_MM = 90.0  # from the card's middle
_REGION_MM2 = 8.0
_EDGE_MM = 0.12
_EDGE_HIGH, _EDGE_LOW = 1.1, 0.7  # slope of the logarithm of light, per mm
_EDGE_LENGTH_MM = 2.0
_EDGE_AROUND_MM = 0.2
_IN_REGION = 0.85  # share of a block in a region, from which it votes
_LEAST_VOTES = 4
_BESIDE_HIDDEN_MM = 0.15


class Ground(Struct, frozen=True, eq=False):
    """What of the reference is compared: ``labels`` (rows, columns) of its regions on the
    points of ``frame``, 0 for edges and what is too small; ``slot`` whether it is what lies
    round a slot, else the whole picture."""

    frame: register.CommonFrame
    labels: np.ndarray
    slot: bool


class Region(Struct, frozen=True, eq=False):
    """Where (bool) a surface can be judged, and how it moves between the photos."""

    places: np.ndarray
    layer: register.Layer


def ground_of(reference: Sight) -> Ground:
    low, high = (
        np.clip(v, -_WIDEST_MM, _WIDEST_MM)
        for v in (reference.corners_mm().min(axis=0), reference.corners_mm().max(axis=0))
    )
    box = _slot_box(reference, _frame(low, high, _GLANCE_MM))
    if box is not None:
        low, high = np.maximum(low, box[0] - _AROUND_MM), np.minimum(high, box[1] + _AROUND_MM)
    frame = _frame(low, high, STEP_MM)
    x, y = frame.points()
    free = ~(
        _edges(register.log_luminance(reference.seen_at(x, y)), frame.step)
        | reference.on_card(x, y)
        | reference.white_at(x, y)
    )
    _, labels, stats, _ = cv2.connectedComponentsWithStats(free.astype(np.uint8), connectivity=4)
    large = stats[:, cv2.CC_STAT_AREA] * frame.step**2 > _REGION_MM2
    large[0] = False
    return Ground(frame, np.where(large[labels], labels, 0), box is not None)


def _frame(low: np.ndarray, high: np.ndarray, step: float) -> register.CommonFrame:
    columns, rows = (np.maximum(high - low, 1) / step).astype(int)
    return register.CommonFrame(float(low[0]), float(low[1]), step, int(columns), int(rows))


def _slot_box(reference: Sight, frame: register.CommonFrame) -> tuple[np.ndarray, np.ndarray] | None:
    """Low and high corner (mm) of what edges enclose beside the card, None for nothing."""
    x, y = frame.points()
    out = reference.on_card(x, y) | reference.white_at(x, y)
    out[[0, -1]] = True
    out[:, [0, -1]] = True
    edges = _edges(register.log_luminance(reference.seen_at(x, y)), frame.step)
    _, labels, stats, _ = cv2.connectedComponentsWithStats((~edges & ~out).astype(np.uint8), connectivity=4)
    beside = cv2.dilate(out.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    area = stats[:, cv2.CC_STAT_AREA] * frame.step**2
    closed = (area > _SLOT_MM2[0]) & (area < _SLOT_MM2[1])
    closed[np.unique(labels[beside])] = False
    closed[0] = False
    if not closed.any():
        return None
    left, top = stats[closed, cv2.CC_STAT_LEFT], stats[closed, cv2.CC_STAT_TOP]
    right = left + stats[closed, cv2.CC_STAT_WIDTH]
    bottom = top + stats[closed, cv2.CC_STAT_HEIGHT]
    corner = np.array([frame.x0, frame.y0])
    return (
        corner + frame.step * np.array([left.min(), top.min()]),
        corner + frame.step * np.array([right.max(), bottom.max()]),
    )


def _edges(log: np.ndarray, step: float) -> np.ndarray:
    """Long strong edges of the reference and a little around them, as bool."""
    soft = cv2.GaussianBlur(log, (0, 0), max(_EDGE_MM / step, 0.8))
    slope: np.ndarray = cv2.magnitude(
        cv2.Scharr(soft, cv2.CV_32F, 1, 0), cv2.Scharr(soft, cv2.CV_32F, 0, 1)
    )
    slope /= np.float32(32 * step)
    weak = (slope > _EDGE_LOW).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(weak, connectivity=8)
    size = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    strongest = np.zeros(len(stats), bool)
    strongest[np.unique(labels[slope > _EDGE_HIGH])] = True
    long = (size * step > _EDGE_LENGTH_MM) & strongest
    long[0] = False
    reach = max(1, round(_EDGE_AROUND_MM / step))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    return cv2.dilate(long[labels].astype(np.uint8), kernel) > 0


def regions_of(
    ground: Ground, reference: Sight, photo: Sight, layers: list[register.Layer]
) -> list[Region]:
    """The regions whose movement is known, without what another surface hides in the photo."""
    frame = ground.frame
    blind = register.blind_at(reference, photo, *frame.points())
    size = round(register.BLOCK_MM / frame.step)
    found: list[tuple[np.ndarray, register.Layer]] = []
    for label in np.unique(ground.labels[ground.labels > 0]):
        places = ground.labels == label
        inside = cv2.blur(places.astype(np.float32), (size, size)) > _IN_REGION
        votes = [int(frame.at(inside, layer.blocks).sum()) for layer in layers]
        # What has too little texture to vote may lie as high as the card, and then stays.
        enough = max(votes, default=0) >= _LEAST_VOTES
        likely = layers[int(np.argmax(votes))] if enough else register.AS_HIGH_AS_CARD
        moved = register.refined(reference, photo, likely, frame, ~places | blind)
        if moved is not None:
            found.append((places, moved))
    change_of_view = photo.pose.eye[:2] - reference.pose.eye[:2]
    return [
        Region(places & ~blind & ~_hidden(places, layer, found, change_of_view, frame), layer)
        for places, layer in found
    ]


def _hidden(
    places: np.ndarray,
    layer: register.Layer,
    found: list[tuple[np.ndarray, register.Layer]],
    change_of_view: np.ndarray,
    frame: register.CommonFrame,
) -> np.ndarray:
    """Where (bool) a higher surface, or the wall below it, may stand before this one.

    A place X of this surface is hidden by what the reference shows at W when X + f(X) =
    W + g(W), with g anything between this surface's movement f and that of the higher one:
    walls reach from one to the other. The lower surface moves more with the camera.
    """
    hidden = np.zeros(places.shape, bool)
    around = (~places).astype(np.uint8)
    rows, columns = np.nonzero(places)
    middle = tuple(
        np.array([v]) for v in (frame.x0 + frame.step * columns.mean(), frame.y0 + frame.step * rows.mean())
    )
    mine = np.array(layer.to(*middle)).ravel()
    for _, other in found:
        apart = np.array(other.to(*middle)).ravel() - mine
        if other is layer or float(apart @ change_of_view) >= 0:
            continue
        reach = int(np.ceil((np.abs(apart).max() + _BESIDE_HIDDEN_MM) / frame.step))
        kernel = np.zeros((2 * reach + 1,) * 2, np.uint8)
        end = tuple(round(v) for v in reach - apart / frame.step)
        cv2.line(kernel, (reach, reach), end, 1, max(1, round(2 * _BESIDE_HIDDEN_MM / frame.step)))
        hidden |= cv2.dilate(around, kernel) > 0
    return hidden
