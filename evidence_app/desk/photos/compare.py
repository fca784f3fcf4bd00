"""The strict comparison: are two photos one and the same picture?

Two honest photos of a checkpoint look alike, but they are never taken from quite the same place
with the same light, dust and grain, so one cannot be laid over the other to the pixel. A copy
can, however it was cut, turned, saved again, made smaller or brighter.

The features that both have give the placement (RANSAC, Fischler and Bolles 1981), which is
refined on the pictures themselves, and the fine structure of both is compared patch by patch by
its correlation, which brightness and contrast do not change. That alone proves nothing: two
units' printed labels agree as well as copies do. The patches of both at full size must lie still
on each other: parts of different height move against each other when the camera moves (parallax),
those of a picture do not. Only where too few patches are left to see that does agreement decide.
The scale card's print is left out, being the same in all photos; its place is not.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.desk.photos.card import without_card
from evidence_app.desk.photos.features import Features, features_in, sized

_COARSE_PX, SIDE_PX, LARGE_PX = 320, 640, 1280
_RATIO, _MOST_BITS = 0.85, 44
_RANSAC = 3.0 / SIDE_PX
LEAST_SHARED = 10
_MOST_DRIFT = 8.0 / SIDE_PX
_PATCH_PX, _LEAST_PATCHES = 20, 15
_CONTRAST = 1.0  # grey levels from which a patch tells something
_AGREES, _RESEMBLES = 0.75, 0.5  # correlation from which a patch agrees, or nearly
# tests/bench/reuse.py measures what follows. At the small size copies agree to 0.9 and more but
# so do single honest photos; at the large one honest photos of slots, strips and seams agreed to
# 0.54 and moved by 0.56 px and more (three quarters of the patches), those of a cell's label or of
# a type plate agreed to 0.99 and moved by 0.17 px and more.
_WORTH_A_LOOK = 0.7
_SAME_AGREEMENT, _POSSIBLE_RESEMBLANCE = 0.85, 0.7
_STILL_PX, _LEAST_STILL = 96, 16
# Three quarters and nine tenths of the patches move by no more, px: where most of them agree, as
# of printed matter at least 0.78 do; and where saving or printing has worn them, the picture is
# small or the scale cards coincide.
_STILL_AGREEING, _STILL_WORN, _STILL_CORRELATION = (0.15, 0.22), (0.34, 0.42), 0.3
_PLAINEST_PERCENT, _SAME_GRAIN = 10, 0.08  # honest plates that lay still: 0.04 and 0.06
_MOST_AGREE, _SAME_CARD = 0.6, 0.95  # part of the patches; of the area that either card covers


class Picture(Struct, frozen=True):
    """A photo ready to be compared: ``grey`` (H, W) uint8, and ``elsewhere`` (H, W) float32, 0
    where a scale card lies and 1 elsewhere."""

    grey: np.ndarray
    elsewhere: np.ndarray
    features: Features


_Sight = tuple[np.ndarray, np.ndarray]  # grey and elsewhere of one picture, at one size


class Comparison(Struct, frozen=True):
    """``agreement`` is the part of the patches whose fine structure agrees at the largest size
    looked at, 0 to 1; ``possible`` whether they resemble each other more than honest photos
    mostly do; ``placement`` (3, 3) takes places of the first picture to the second, both in
    shares of their longer side, None where there is none."""

    same: bool
    possible: bool
    agreement: float
    inliers: int
    placement: tuple[tuple[float, ...], ...] | None


def picture_of(colours: np.ndarray, features: Features | None = None) -> Picture:
    """Of a picture (H, W, 3), uint8, BGR; with its ``features`` where they are known."""
    grey = sized(cv2.cvtColor(colours, cv2.COLOR_BGR2GRAY), min(LARGE_PX, max(colours.shape)))
    return Picture(grey, without_card(grey), features or features_in(colours))


def compare(one: Picture, other: Picture, mirrored: bool = False) -> Comparison:
    """Lay ``one`` (in a mirror first when ``mirrored``) over ``other`` and see how much agrees."""
    placement, inliers = _placement(one.features, other.features, mirrored)
    if placement is None:
        return Comparison(False, False, 0.0, inliers, None)
    mine, theirs = _sight(one, mirrored), _sight(other)
    small = _resized(mine, SIDE_PX), _resized(theirs, SIDE_PX)
    agreement, _ = _agreement(*small, placement)
    if agreement < _WORTH_A_LOOK:
        coarse = _refined(_resized(mine, _COARSE_PX), _resized(theirs, _COARSE_PX), placement)
        agreement, _, placement = max((agreement, 1, placement), (*_agreement(*small, coarse), coarse),
                                      key=lambda each: each[0])  # fmt: skip
    same = possible = False
    if agreement >= _WORTH_A_LOOK:
        side = max(SIDE_PX, min(max(one.grey.shape), max(other.grey.shape)))
        large = _resized(mine, side), _resized(theirs, side)
        # Refined at the large size only where that can still tell: it costs five times as much.
        for size in (small, large):
            placement = _refined(*size, placement)
            agreement, resemblance = _agreement(*large, placement)
            possible = resemblance >= _POSSIBLE_RESEMBLANCE
            same = _is_one(*large, placement, agreement, full_size=side == LARGE_PX)
            if same or not possible:
                break
    return Comparison(
        same=same,
        possible=possible,
        agreement=round(agreement, 3),
        inliers=inliers,
        placement=tuple(tuple(float(v) for v in row) for row in placement),
    )


def _sight(picture: Picture, mirrored: bool = False) -> _Sight:
    if not mirrored:
        return picture.grey, picture.elsewhere
    return np.ascontiguousarray(picture.grey[:, ::-1]), np.ascontiguousarray(picture.elsewhere[:, ::-1])


def _resized(sight: _Sight, longer_px: int) -> _Sight:
    grey = sized(sight[0], longer_px)
    return grey, cv2.resize(sight[1], grey.shape[::-1], interpolation=cv2.INTER_NEAREST)


def features_shared(one: Features, rows: np.ndarray, mirrored: bool) -> int:
    """How many features lie on each other, where a picture itself is not to be had."""
    return _placement(one, Features(rows, rows), mirrored)[1]


def _placement(one: Features, other: Features, mirrored: bool) -> tuple[np.ndarray | None, int]:
    mine, theirs = (one.mirrored if mirrored else one.rows), other.rows
    if len(mine) < LEAST_SHARED or len(theirs) < LEAST_SHARED:
        return None, 0
    bits = np.bitwise_count(mine["bits"][:, None] ^ theirs["bits"][None]).sum(axis=2, dtype=np.int32)
    nearest = bits.argmin(axis=1)
    best, second = np.partition(bits, 1, axis=1)[:, :2].T
    good = (best <= _MOST_BITS) & (
        (best < _RATIO * second) | (bits.argmin(axis=0)[nearest] == np.arange(len(mine)))
    )
    if good.sum() < LEAST_SHARED:
        return None, int(good.sum())
    start, end = (
        np.column_stack([rows["x"], rows["y"]]).astype(np.float64)
        for rows in (mine[good], theirs[nearest[good]])
    )
    cv2.setRNGSeed(1)  # the same two photos always give the same answer
    placement, inside = cv2.findHomography(start, end, cv2.RANSAC, _RANSAC, maxIters=3000, confidence=0.999)
    inliers = int(inside.sum()) if inside is not None else 0
    return (placement, inliers) if placement is not None and inliers >= LEAST_SHARED else (None, inliers)


def _in_pixels(placement: np.ndarray, one: np.ndarray, other: np.ndarray) -> np.ndarray:
    return np.diag([max(other.shape)] * 2 + [1]) @ placement @ np.diag([1 / max(one.shape)] * 2 + [1])


def _refined(this: _Sight, that: _Sight, placement: np.ndarray) -> np.ndarray:
    """The placement to a fraction of a pixel, by maximising the correlation of both (Evangelidis
    and Psarakis 2008); as it was where that does not converge."""
    one, other = this[0], that[0]
    start = _in_pixels(placement, one, other)
    inverse = np.linalg.inv(start).astype(np.float32)
    mask = cv2.warpPerspective(np.full(one.shape, 255, np.uint8), start, other.shape[::-1])
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 20, 1e-4)
    try:
        way = cv2.MOTION_HOMOGRAPHY
        back_again = cv2.findTransformECC(other, one, inverse, way, criteria, mask, 5)[1]
        found = np.linalg.inv(np.asarray(back_again, np.float64))
    except (cv2.error, np.linalg.LinAlgError):
        return placement
    back = np.diag([1 / max(other.shape)] * 2 + [1]) @ found @ np.diag([max(one.shape)] * 2 + [1])
    corners = np.array([[[0, 0], [1, 0], [0, 0.75], [1, 0.75]]], np.float64)
    moved = cv2.perspectiveTransform(corners, back) - cv2.perspectiveTransform(corners, placement)
    return back / back[2, 2] if np.abs(moved).max() <= _MOST_DRIFT else placement


def _laid(one: _Sight, other: _Sight, placement: np.ndarray, margin: int):
    """``one`` laid over ``other``, and (H, W) where both are and tell something."""
    matrix, size = _in_pixels(placement, one[0], other[0]), other[0].shape[::-1]
    laid = cv2.warpPerspective(one[0], matrix, size, flags=cv2.INTER_LINEAR)
    inside = cv2.warpPerspective(one[1], matrix, size, flags=cv2.INTER_NEAREST)
    inside = cv2.erode(inside * other[1], np.ones((margin, margin)), borderValue=0)
    return laid.astype(np.float32), other[0].astype(np.float32), inside


def _is_one(one: _Sight, other: _Sight, placement: np.ndarray, agreement: float, full_size: bool) -> bool:
    """Whether both are one picture: stiller than two photos ever lie, and, where most agrees and
    no scale card fixes the place, of the same grain."""
    strictly = full_size and agreement >= _MOST_AGREE and not _cards_coincide(one, other, placement)
    still = _lie_still(one, other, placement, _STILL_AGREEING if strictly else _STILL_WORN)
    same = agreement >= _SAME_AGREEMENT if still is None else still
    return same and (not strictly or _grain_alike(one, other, placement) >= _SAME_GRAIN)


def _cards_coincide(one: _Sight, other: _Sight, placement: np.ndarray) -> bool:
    """Whether both have a scale card and at the same place: nobody lays it down twice alike."""
    matrix = _in_pixels(placement, one[0], other[0])
    mine = cv2.warpPerspective(1 - one[1], matrix, other[0].shape[::-1], flags=cv2.INTER_NEAREST)
    theirs = 1 - other[1]
    return bool((mine * theirs).sum() > _SAME_CARD * np.maximum(mine, theirs).sum())


def _grain_alike(one: _Sight, other: _Sight, placement: np.ndarray) -> float:
    """Correlation, -1 to 1, of the finest grain in the plainest tenth of both: a copy keeps some
    of its sensor's noise, and two photos never have the same."""
    a, b, inside = _laid(one, other, placement, 9)
    plain = inside > 0
    for each in (a, b):
        structure = cv2.GaussianBlur(each, (0, 0), 1.5) - cv2.GaussianBlur(each, (0, 0), 5)
        around = cv2.GaussianBlur(structure**2, (0, 0), 4)
        plain &= around < np.percentile(around[inside > 0], _PLAINEST_PERCENT)
    mine, theirs = (each[plain] - cv2.GaussianBlur(each, (0, 0), 0.8)[plain] for each in (a, b))
    size = np.sqrt((mine @ mine) * (theirs @ theirs))
    return float(mine @ theirs / size) if size else 0.0


def _agreement(one: _Sight, other: _Sight, placement: np.ndarray) -> tuple[float, float]:
    """The part of the telling patches that agree, and the part that at least resemble."""
    a, b, inside = _laid(one, other, placement, 9)
    correlation, contrast, covered = _by_patch(_fine(a), _fine(b), inside)
    told = (covered > 0.9) & (contrast > _CONTRAST)
    if told.sum() < _LEAST_PATCHES:
        return 0.0, 0.0
    agrees, resembles = (float((correlation[told] > each).mean()) for each in (_AGREES, _RESEMBLES))
    return agrees, resembles


def _fine(grey: np.ndarray) -> np.ndarray:
    """Structure of about 2 to 12 px: shading, which all photos of a thing share, is taken away,
    and so is the finest grain, which saving again destroys."""
    return cv2.GaussianBlur(grey, (0, 0), 1.0) - cv2.GaussianBlur(grey, (0, 0), 4.0)


def _by_patch(a: np.ndarray, b: np.ndarray, inside: np.ndarray):
    """Correlation, contrast (the weaker of the two, as standard deviation) and coverage."""
    height, width = (n // _PATCH_PX * _PATCH_PX for n in a.shape)

    def mean(values: np.ndarray) -> np.ndarray:
        blocks = values[:height, :width].reshape(
            height // _PATCH_PX, _PATCH_PX, width // _PATCH_PX, _PATCH_PX
        )
        return blocks.mean(axis=(1, 3))

    variance_a = np.maximum(mean(a * a) - mean(a) ** 2, 1e-9)
    variance_b = np.maximum(mean(b * b) - mean(b) ** 2, 1e-9)
    covariance = mean(a * b) - mean(a) * mean(b)
    correlation = covariance / np.sqrt(variance_a * variance_b)
    return correlation, np.sqrt(np.minimum(variance_a, variance_b)), mean(inside)


def _lie_still(
    one: _Sight, other: _Sight, placement: np.ndarray, at_most: tuple[float, float]
) -> bool | None:
    """Whether three quarters and nine tenths of the patches move by ``at_most`` against each
    other (px); None where there are too few to tell, as in small pictures."""
    a, b, inside = _laid(one, other, placement, 25)
    a, b = _fine(a), _fine(b)
    window = cv2.createHanningWindow((_STILL_PX, _STILL_PX), cv2.CV_32F)
    moved, places, alike = [], [], []
    for y in range(0, a.shape[0] - _STILL_PX, _STILL_PX // 2):
        for x in range(0, a.shape[1] - _STILL_PX, _STILL_PX // 2):
            at = slice(y, y + _STILL_PX), slice(x, x + _STILL_PX)
            if inside[at].mean() < 0.9 or min(a[at].std(), b[at].std()) < _CONTRAST:
                continue
            shift, _ = cv2.phaseCorrelate(a[at], b[at], window)
            moved.append(shift)
            places.append((x / a.shape[1], y / a.shape[1], 1.0))
            alike.append(_alike(a, b, y, x, shift))
    if len(moved) < _LEAST_STILL:
        return None
    shifts, where = np.array(moved), np.array(places)
    rest = shifts - where @ np.linalg.lstsq(where, shifts, rcond=None)[0]
    still = np.percentile(np.hypot(*rest.T), [75, 90]) <= at_most
    return bool(still.all() and np.percentile(alike, 10) >= _STILL_CORRELATION)


def _alike(a: np.ndarray, b: np.ndarray, y: int, x: int, shift: Sequence[float]) -> float:
    """Correlation of a patch with the one it moved to, to the whole pixel."""
    dy, dx = round(shift[1]), round(shift[0])
    if not (0 <= y + dy <= b.shape[0] - _STILL_PX and 0 <= x + dx <= b.shape[1] - _STILL_PX):
        return 0.0
    mine = a[y : y + _STILL_PX, x : x + _STILL_PX]
    theirs = b[y + dy : y + dy + _STILL_PX, x + dx : x + dx + _STILL_PX]
    return float(np.corrcoef(mine.ravel(), theirs.ravel())[0, 1])
