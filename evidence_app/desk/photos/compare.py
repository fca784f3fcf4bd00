"""The strict comparison: are two photos one and the same picture?

Two honest photos of a checkpoint look alike, but they are never taken from quite the same place
with the same light, dust and grain, so one cannot be laid over the other to the pixel. A copy
can, however it was cut, turned, saved again, made smaller or brighter.

The features that both have give the placement (RANSAC, Fischler and Bolles 1981), which is
corrected by how the patches of both move, and the fine structure of both is compared patch by
patch by its correlation, which brightness and contrast do not change. That alone proves nothing:
two units' printed labels agree as well as copies do. The patches of both at full size must lie still
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
from evidence_app.desk.photos.placing import matched

_COARSE_PX, SIDE_PX, LARGE_PX = 320, 640, 1280
_MOST_BITS = 44
_RANSAC = 3.0 / SIDE_PX
LEAST_SHARED = 10
_PATCH_PX, _LEAST_PATCHES = 20, 15
_CONTRAST = 1.0  # grey levels from which a patch tells something
_AGREES, _RESEMBLES = 0.75, 0.5  # correlation from which a patch agrees, or nearly
# tests/bench/reuse.py measures what follows. At the small size copies agree to 0.9 and more but so
# do single honest photos; at the large one honest cells' labels and type plates agreed to 1.00 and
# moved by 0.13 px and more (three quarters of the patches).
_WORTH_A_LOOK = 0.7
_SAME_AGREEMENT, _POSSIBLE_RESEMBLANCE = 0.85, 0.7
_STILL_PX, _LEAST_STILL = 96, 16
# Three quarters and nine tenths of the patches move by no more, px: of flat print; of what saving or
# blur has worn; where the scale cards coincide, of which honest photos moved by 0.4 and 1.5 and more.
_STILL_PRINT, _STILL_WORN, _STILL_BY_CARD = (0.15, 0.22), (0.34, 0.5), (0.4, 0.7)
_STILL_CORRELATION = 0.3
# Honest print: 0.9 px and 0.04 (share of the tones' deviation) and more; worn copies 0.2 and 0.006.
_SAME_TILT_PX, _SAME_LIGHT = 0.35, 0.03
_ROUNDS, _SETTLED_PX, _PARALLAX_PX = 2, 0.5, 1.5
_PLAINEST_PERCENT, _TONES = 10, (3, 252)  # brighter or darker has lost its grain
# Of print that lies still, that does so in the same light, and that is worn; honest: 0.09, 0.06, 0.28.
_SAME_GRAIN, _SOME_GRAIN, _SAME_GRAIN_WORN = 0.1, 0.07, 0.5
_MOST_AGREE, _SAME_CARD = 0.6, 0.95  # part of the patches; of the area that either card covers


class Picture(Struct, frozen=True):
    """A photo ready to be compared: ``grey`` (H, W) uint8, and ``elsewhere`` (H, W) float32, 0
    where a scale card lies and 1 elsewhere."""

    grey: np.ndarray
    elsewhere: np.ndarray
    features: Features


class _Moved(Struct, frozen=True):
    """How far (px) each patch lies from where the placement takes it, and its correlation there."""

    rest: np.ndarray
    alike: np.ndarray

    def within(self, at_most: tuple[float, float]) -> bool:
        """Whether three quarters and nine tenths of them lie still, by ``at_most`` px."""
        still = np.percentile(self.rest, [75, 90]) <= at_most
        return bool(still.all() and np.percentile(self.alike, 10) >= _STILL_CORRELATION)


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
        placement, _ = _settled(*small, placement)
        agreement, _ = _agreement(*small, placement)
    same = possible = False
    if agreement >= _WORTH_A_LOOK:
        side = max(SIDE_PX, min(max(one.grey.shape), max(other.grey.shape)))
        large = _resized(mine, side), _resized(theirs, side)
        placement, moved = _settled(*large, placement)
        agreement, resemblance = _agreement(*large, placement)
        possible = resemblance >= _POSSIBLE_RESEMBLANCE
        same = _is_one(*large, placement, agreement, moved)
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
    start, end = matched(one.mirrored if mirrored else one.rows, other.rows, _MOST_BITS)
    if len(start) < LEAST_SHARED:
        return None, len(start)
    cv2.setRNGSeed(1)  # the same two photos always give the same answer
    placement, inside = cv2.findHomography(start, end, cv2.RANSAC, _RANSAC, maxIters=3000, confidence=0.999)
    inliers = int(inside.sum()) if inside is not None else 0
    return (placement, inliers) if placement is not None and inliers >= LEAST_SHARED else (None, inliers)


def _in_pixels(placement: np.ndarray, one: np.ndarray, other: np.ndarray) -> np.ndarray:
    return np.diag([max(other.shape)] * 2 + [1]) @ placement @ np.diag([1 / max(one.shape)] * 2 + [1])


def _laid(one: _Sight, other: _Sight, placement: np.ndarray, margin: int):
    """``one`` laid over ``other``, and (H, W) where both are and tell something."""
    matrix, size = _in_pixels(placement, one[0], other[0]), other[0].shape[::-1]
    laid = cv2.warpPerspective(one[0], matrix, size, flags=cv2.INTER_LINEAR)
    inside = cv2.warpPerspective(one[1], matrix, size, flags=cv2.INTER_NEAREST)
    inside = cv2.erode(inside * other[1], np.ones((margin, margin)), borderValue=0)
    return laid.astype(np.float32), other[0].astype(np.float32), inside


def _is_one(
    one: _Sight, other: _Sight, placement: np.ndarray, agreement: float, moved: _Moved | None
) -> bool:
    """Whether both are one picture: stiller than two photos ever lie. Flat print, which most of
    the patches agree on and whose place no scale card fixes, has to be of the same grain too, or,
    worn by saving or blur, in the same light and of some of its grain or held at the same tilt."""
    agrees = agreement >= _SAME_AGREEMENT
    limits = _STILL_PRINT, _STILL_WORN, _STILL_BY_CARD
    still, worn, near = (agrees if moved is None else moved.within(each) for each in limits)
    if _cards_coincide(one, other, placement):
        return near
    if agreement < _MOST_AGREE or not worn:
        return worn
    grain = _grain_alike(one, other, placement)
    if grain >= (_SAME_GRAIN if still else _SAME_GRAIN_WORN):
        return True
    held_alike = grain >= _SOME_GRAIN or _tilt(one, other, placement) <= _SAME_TILT_PX
    return held_alike and _same_light(one, other, placement)


def _tilt(one: _Sight, other: _Sight, placement: np.ndarray) -> float:
    """How far (px) the placement is at most from a similarity: cutting, turning and resizing is
    one, and a hand never holds the same tilt twice."""
    sides = (np.linspace(0.1, 0.9, 7) * side for side in one[0].shape[::-1])
    start = np.stack(np.meshgrid(*sides), axis=-1).reshape(1, -1, 2)
    plain = start[0] @ (1, 1j)
    end = cv2.perspectiveTransform(start, _in_pixels(placement, one[0], other[0]))[0] @ (1, 1j)
    return float(np.abs(end - np.polyval(np.polyfit(plain, end, 1), plain)).max())


def _same_light(one: _Sight, other: _Sight, placement: np.ndarray) -> bool:
    """Whether one curve (a cubic) takes the tones of one, without their detail, to those of the
    other: a copy has the lamps, the shadows and the gloss of its source."""
    a, b, inside = _laid(_resized(one, _COARSE_PX), _resized(other, _COARSE_PX), placement, 9)
    tones, theirs = (cv2.GaussianBlur(each, (0, 0), 3)[inside > 0] for each in (a, b))
    known = np.vander(tones / 255, 4)
    rest = theirs - known @ np.linalg.lstsq(known, theirs, rcond=None)[0]
    return bool(rest.std() <= _SAME_LIGHT * max(theirs.std(), 1.0))


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
    toned = (inside > 0) & (np.minimum(a, b) > _TONES[0]) & (np.maximum(a, b) < _TONES[1])
    if not toned.any():
        return 0.0
    plain = toned.copy()
    for each in (a, b):
        structure = cv2.GaussianBlur(each, (0, 0), 1.5) - cv2.GaussianBlur(each, (0, 0), 5)
        around = cv2.GaussianBlur(structure**2, (0, 0), 4)
        plain &= around < np.percentile(around[toned], _PLAINEST_PERCENT)
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
    down, across = (n // _PATCH_PX for n in a.shape)

    def mean(values: np.ndarray) -> np.ndarray:
        whole = values[: down * _PATCH_PX, : across * _PATCH_PX]
        return cv2.resize(whole, (across, down), interpolation=cv2.INTER_AREA)

    variance_a = np.maximum(mean(a * a) - mean(a) ** 2, 1e-9)
    variance_b = np.maximum(mean(b * b) - mean(b) ** 2, 1e-9)
    covariance = mean(a * b) - mean(a) * mean(b)
    correlation = covariance / np.sqrt(variance_a * variance_b)
    return correlation, np.sqrt(np.minimum(variance_a, variance_b)), mean(inside)


def _settled(one: _Sight, other: _Sight, placement: np.ndarray) -> tuple[np.ndarray, _Moved | None]:
    """The placement corrected by how the patches move, and what of that is left; None where too
    few patches can tell, as in small pictures."""
    sides = np.diag([max(other[0].shape)] * 2 + [1.0])
    for _ in range(_ROUNDS):
        where, shifts, alike = _shifts(one, other, placement)
        if len(where) < _LEAST_STILL:
            return placement, None
        cv2.setRNGSeed(1)
        found, _ = cv2.findHomography(where, where + shifts, cv2.RANSAC, _SETTLED_PX, maxIters=500)
        if found is None:
            return placement, None
        lies = cv2.perspectiveTransform(where[None], found)[0]
        rest = np.hypot(*(where + shifts - lies).T)
        placement = np.linalg.inv(sides) @ found @ sides @ placement
        if np.abs(lies - where).max() < _SETTLED_PX or np.percentile(rest, 75) > _PARALLAX_PX:
            break
    return placement / placement[2, 2], _Moved(rest, alike)


def _shifts(one: _Sight, other: _Sight, placement: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Middles (N, 2) of the telling patches of both, how each has to move (N, 2) to lie on the
    other, in px, and their correlation (N,) then."""
    a, b, inside = _laid(one, other, placement, 25)
    a, b = _fine(a), _fine(b)
    window = cv2.createHanningWindow((_STILL_PX, _STILL_PX), cv2.CV_32F)
    where, shifts, alike = [], [], []
    for y in range(0, a.shape[0] - _STILL_PX, _STILL_PX // 2):
        for x in range(0, a.shape[1] - _STILL_PX, _STILL_PX // 2):
            at = slice(y, y + _STILL_PX), slice(x, x + _STILL_PX)
            if inside[at].mean() < 0.9 or min(a[at].std(), b[at].std()) < _CONTRAST:
                continue
            shift, _ = cv2.phaseCorrelate(a[at], b[at], window)
            where.append((x + _STILL_PX / 2, y + _STILL_PX / 2))
            shifts.append(shift)
            alike.append(_alike(a, b, y, x, shift))
    return np.array(where), np.array(shifts), np.array(alike)


def _alike(a: np.ndarray, b: np.ndarray, y: int, x: int, shift: Sequence[float]) -> float:
    """Correlation of a patch with the one it moved to, to the whole pixel."""
    dy, dx = round(shift[1]), round(shift[0])
    if not (0 <= y + dy <= b.shape[0] - _STILL_PX and 0 <= x + dx <= b.shape[1] - _STILL_PX):
        return 0.0
    mine = a[y : y + _STILL_PX, x : x + _STILL_PX]
    theirs = b[y + dy : y + dy + _STILL_PX, x + dx : x + dx + _STILL_PX]
    return float(np.corrcoef(mine.ravel(), theirs.ravel())[0, 1])
