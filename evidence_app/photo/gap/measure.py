"""The width of a seam beside the scale card, with its uncertainty, or a refusal.

Stations every 0.5 mm over the 88 mm beside the card. The value is the median width;
limits are judged by the largest (for ``at least`` the smallest) mean over any 2 mm. A
wrong width that is sure of itself is the worst result: whatever does not look like a
straight, dark, even gap is refused.
"""

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from evidence_app.photo.card.bar import BAR_U, read_bar
from evidence_app.photo.card.find import find_markers
from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.card.light import CardLight, read_light
from evidence_app.photo.card.pose import Pose, fit_pose
from evidence_app.photo.gap.fit import MOST_BLUR_CHANGE, STATIONS, GapFit, fit_gap
from evidence_app.photo.gap.seam import STATION_MM, Line, SeamStrip, find_seams, lay_out
from evidence_app.photo.refusal import CannotMeasure
from evidence_app.photo.uncertainty import COVERAGE_FACTOR, Budget, Term, at_the_limits, rectangular

OVER_MM = 2.0
LEAST_MEGAPIXELS = 1.0
MOST_LEAN_DEG = 10.0  # of the line of sight across the seam
MOST_TILT_DEG = 20.0
# Standard deviation of the blur at the card: a photo of many pixels may be as soft as one of
# few. Below so many pixels it is never refused for it.
MOST_BLUR_MM, MOST_BLUR_PX = 0.08, 1.4
LEAST_AGREEING = 0.8
_CERTAIN = 0.95  # share of agreeing stations from which no other line is tried

MOST_STEP_MM = 0.15  # by which the panel may stand above or below the frame
_LEAN_U_DEG = 0.3  # beside what the uncertain focal length gives it
LENS_U = 0.001  # relative error of the scale away from the card
_THICKNESS_LIMIT = 0.3  # mm, of a card that was not measured
_SHAPE_U = 0.11  # of the blur: what edges that are not quite as modelled move a width by
_TONE_U, _TONE_MOST_MM = 0.02, 0.0015
# How bright the inside may be, as reflectance. Ink is not darker than 0.026, and a line has
# one surface on both sides; what is brighter than ink must have sides that differ, be darker
# than both by that share, and have edges seen that well (own uncertainty over width).
_AS_INK, _MOST_INSIDE, _EQUAL_SIDES, _WELL_SEEN = 0.022, 0.085, 1.25, 0.07
_MOST_OF_DARKER_SIDE = 0.85
_LEAST_CONTRAST, _LEAST_SEEN = 0.010, 0.5
_STRAIGHT_MM = 0.06
_LEAST_WIDTH_MM = 0.03
# A station's own uncertainty over its width: on practice scenes at 3 megapixels seams of
# 0.04 mm stay below 0.17, what only looks like a seam begins at 0.27.
_MOST_OWN_SHARE, _MOST_OWN_SHARE_UNUSUAL = 0.22, 0.10
_MOST_STRANGE = 3.2  # standard deviations; seams on practice scenes reach 2.2
_MOST_WHITE = 0.02
_SPIKE_MM, _SPIKE_SHARE, _SPIKE_STATIONS = 0.03, 0.25, 9
_REACH_MM = 1.2
_WIDEST_REACH_MM = 2.0
_BESIDE_MM = 0.6  # to be seen on both sides of the gap


class Card(Struct, frozen=True):
    """What is known of the card that was used: ``scale`` is its true length over the
    printed one with standard uncertainty ``scale_u``; thickness in mm."""

    serial: str | None
    scale: float
    scale_u: float
    thickness_mm: float
    thickness_u: float

    @property
    def confirmed(self) -> bool:
        return self.serial is not None

    def misprint(self, bar: float) -> float:
        """By how much (relative) a check bar that measures ``bar`` mm is off, where that is
        more than the expanded uncertainty of the card's scale; else 0."""
        off = bar / card_layout().check_bar.length - 1
        return off if abs(off) > COVERAGE_FACTOR * np.hypot(self.scale_u, BAR_U) else 0.0


def unconfirmed_card() -> Card:
    known = card_layout().unconfirmed
    return Card(
        None, 1.0, rectangular(known.pitch_relative_limit), known.thickness, rectangular(_THICKNESS_LIMIT)
    )


class Extreme(Struct, frozen=True):
    """A mean width over 2 mm around ``at_mm`` with its standard uncertainty."""

    width_mm: float
    at_mm: float
    u_mm: float


class Gap(Struct, frozen=True, eq=False):
    """``stations`` (N, 2) are place along the card and width in mm, of which ``good`` (N,)
    agree; ``bar`` is what the card's check bar measures, in mm, NaN where it cannot be read;
    ``line`` is for drawing."""

    median_mm: float
    budget: Budget
    largest: Extreme
    smallest: Extreme
    stations: np.ndarray
    middles: np.ndarray
    good: np.ndarray
    lean_deg: float
    tilt_deg: float
    pose: Pose
    line: Line
    mm_per_pixel: float
    card: Card
    bar: float


def measure_gap(luma: np.ndarray, card: Card | None = None) -> Gap:
    """The seam in a photo's brightness channel (H, W) uint8. Raises CannotMeasure."""
    card = card or unconfirmed_card()
    pose, light = read_card(luma)
    if pose.tilt_deg > MOST_TILT_DEG:
        raise _tilted(pose.tilt_deg)
    best: Gap | None = None
    problem: CannotMeasure | None = None
    for line in find_seams(luma, pose):
        try:
            found = _measured(luma, pose, light, line, card)
        except CannotMeasure as refusal:
            problem = problem or refusal
            if refusal.reason in ("tilted", "bright inside"):
                problem = refusal  # a gap it may well be: no other line may stand for it
                break
            continue
        if best is None or found.good.mean() > best.good.mean():
            best = found
        if best.good.mean() >= _CERTAIN:
            break
    if best is None:
        raise problem or CannotMeasure("seam", "no gap")
    return best


def read_card(luma: np.ndarray) -> tuple[Pose, CardLight]:
    """What the card tells of a photo that is large and sharp enough to be measured on."""
    if luma.size < LEAST_MEGAPIXELS * 1e6:
        raise CannotMeasure("any", "small", value=luma.size / 1e6)
    pose = fit_pose(luma, find_markers(luma))
    light = read_light(luma, pose)
    if light.edge.blur > max(MOST_BLUR_PX, MOST_BLUR_MM * max(pose.pixels_per_mm(0.0, 0.0))):
        raise CannotMeasure("seam", "blurred")
    return pose, light


def _tilted(degrees: float) -> CannotMeasure:
    return CannotMeasure("seam", "tilted", degrees=degrees)


def _measured(luma: np.ndarray, pose: Pose, light: CardLight, line: Line, card: Card) -> Gap:
    lean = _lean(pose, line)
    line, strip, fit = _fitted(luma, pose, light, line)
    if strip.white.mean() > _MOST_WHITE:
        raise CannotMeasure("seam", "glare")
    good = _agreeing(strip, fit)
    if LEAST_AGREEING <= good.mean() < 1:  # the others must not bend what is common to all
        fit = _fitted_again(strip, fit, good, light.edge.blur_u / light.edge.blur)
        good &= _agreeing(strip, fit)
    if good.mean() < LEAST_AGREEING:
        raise CannotMeasure("seam", "no gap")
    if abs(lean) > MOST_LEAN_DEG:
        raise _tilted(abs(lean))
    # The seam lies below the card's face by the card's thickness.
    true = card.scale * (1 + card.thickness_mm / pose.distance_mm)
    width = fit.width * true
    median = float(np.median(width[good]))
    leaning = float(np.hypot(lean, _lean_u(pose, line)))
    blur = float(np.median(strip.blur_mm))
    bar = read_bar(luma, pose)
    budget = _budget(median, fit, good, leaning, blur, pose, card, bar)
    if median < max(_LEAST_WIDTH_MM, budget.expanded()):
        raise CannotMeasure("seam", "narrow")
    largest, smallest = (_extreme(strip.along, width, fit, good, sign, budget) for sign in (1, -1))
    return Gap(
        median_mm=median,
        budget=budget,
        largest=largest,
        smallest=smallest,
        stations=np.column_stack([strip.along, width]),
        middles=fit.middle,
        good=good,
        lean_deg=lean,
        tilt_deg=pose.tilt_deg,
        pose=pose,
        line=line,
        mm_per_pixel=1 / pose.pixels_per_mm(0.0, line.at)[1],
        card=card,
        bar=bar,
    )


def _lean(pose: Pose, line: Line) -> float:
    """Of the line of sight across the seam, in degrees."""
    along, across = pose.lean_deg(0.0, line.at)
    return float(across * np.cos(line.lean) - along * np.sin(line.lean))


def _lean_u(pose: Pose, line: Line) -> float:
    """Standard uncertainty of the lean: without knowing the lens, a seam at the picture's
    border may be looked at straight or not."""
    longer, shorter = (
        _lean(replace(pose, focal=pose.focal * float(np.exp(sign * pose.focal_u))), line)
        for sign in (1, -1)
    )
    return float(np.hypot(_LEAN_U_DEG, (longer - shorter) / 2))


def _fitted(luma: np.ndarray, pose: Pose, light: CardLight, line: Line) -> tuple[Line, SeamStrip, GapFit]:
    """The fit on a strip about the gap's middle, wide enough for what was found."""
    blur_u = light.edge.blur_u / light.edge.blur
    reach = _REACH_MM
    for again in (True, False):
        strip = lay_out(luma, pose, light, line, reach)
        try:
            fit = fit_gap(strip.light, strip.across, strip.blur_mm, blur_u)
        except np.linalg.LinAlgError as error:
            raise CannotMeasure("seam", "no gap") from error
        wide = float(np.quantile(fit.width, 0.9)) / 2 + _BESIDE_MM
        off = float(np.median(fit.middle))
        if not again or wide + abs(off) < _REACH_MM:
            break
        reach = min(wide + 0.15, _WIDEST_REACH_MM)
        line = replace(line, at=line.at + line.side * off)
    return line, strip, fit


def _fitted_again(strip: SeamStrip, fit: GapFit, good: np.ndarray, blur_u: float) -> GapFit:
    """The fit of the good stations alone; the others keep what they had."""
    alone = fit_gap(strip.light[good], strip.across, strip.blur_mm[good], blur_u)
    stations = {}
    for name in STATIONS:
        stations[name] = getattr(fit, name).copy()
        stations[name][good] = getattr(alone, name)
    return replace(alone, **stations)


def _agreeing(strip: SeamStrip, fit: GapFit) -> np.ndarray:
    """Stations whose profile is that of a gap on the common straight line."""
    uncertain = float(np.median(fit.own_u / fit.width))
    unusual = fit.unusual or fit.darkness > _AS_INK
    if (
        uncertain > (_MOST_OWN_SHARE_UNUSUAL if unusual else _MOST_OWN_SHARE)
        or abs(fit.common[0]) > MOST_BLUR_CHANGE
        or fit.strangeness > _MOST_STRANGE
    ):
        raise CannotMeasure("seam", "no gap")
    _dark_inside(fit)
    straight = np.polyfit(strip.along, fit.middle, 2)
    for _ in range(3):
        off = np.abs(fit.middle - np.polyval(straight, strip.along))
        near = off < max(_STRAIGHT_MM, 2 * float(np.median(off)))
        straight = np.polyfit(strip.along[near], fit.middle[near], 2)
    off = np.abs(fit.middle - np.polyval(straight, strip.along))
    seen = np.minimum(fit.before, fit.after) - fit.darkness > _LEAST_CONTRAST
    if seen.mean() >= _LEAST_SEEN:  # along a part of it one side may be as bright as the inside
        seen |= fit.own_u < _WELL_SEEN * fit.width
    usual = float(np.median(fit.misfit))
    level = np.maximum(fit.before, fit.after)
    return (
        (off < _STRAIGHT_MM)
        & seen
        & (fit.misfit < 4 * usual)
        & (fit.misfit < 0.15 * level + 0.005)
        & (fit.width > 0.01)
        & (strip.white < _MOST_WHITE)
        & ~_spikes(fit.width)
    )


def _dark_inside(fit: GapFit) -> None:
    """Raises CannotMeasure for what is too bright between its edges to be told from a line."""
    darker, brighter = sorted((float(np.median(fit.before)), float(np.median(fit.after))))
    inside, differ = fit.darkness, brighter > _EQUAL_SIDES * darker
    if not differ:  # in a narrow one little is seen of the inside: it must be dark for certain
        inside += 2 * float(np.sqrt(fit.common_cov[1, 1]))
    told = (
        differ
        and inside < min(_MOST_INSIDE, _MOST_OF_DARKER_SIDE * darker)
        and float(np.median(fit.own_u / fit.width)) < _WELL_SEEN
    )
    if inside > _AS_INK and not told:
        raise CannotMeasure("seam", "bright inside", share=100 * inside)


def _spikes(width: np.ndarray) -> np.ndarray:
    """Stations that differ from all around them: lint or a scratch, not the seam."""
    half = _SPIKE_STATIONS // 2
    around = np.lib.stride_tricks.sliding_window_view(np.pad(width, half, mode="reflect"), _SPIKE_STATIONS)
    usual = np.median(around, axis=1)
    return np.abs(width - usual) > np.maximum(_SPIKE_MM, _SPIKE_SHARE * usual)


def _budget(
    width: float,
    fit: GapFit,
    good: np.ndarray,
    lean: float,
    blur: float,
    pose: Pose,
    card: Card,
    bar: float,
) -> Budget:
    """``lean`` in degrees, with its own uncertainty in it."""
    weight = good / good.sum()
    own = float(np.sqrt((weight * fit.own_u**2).sum()))
    # Edges are flush or they are not: a step that is there is rarely a small one.
    step = at_the_limits(MOST_STEP_MM)
    terms = [Term("repeatability along the seam", own * 1.25 / np.sqrt(good.sum()))]
    terms += [Term(name, u) for name, u in fit.common_share(weight).items()]
    terms += [
        Term("height step across the seam", step * float(np.tan(np.radians(lean)))),
        Term("scale of the card", width * float(np.hypot(card.scale_u, card.misprint(bar)))),
        Term("height of the card", width * card.thickness_u / pose.distance_mm),
        Term("lens beside the card", width * LENS_U),
        Term("shape of the edges", float(np.hypot(_SHAPE_U * blur, fit.choice_u))),
        Term("tone curve", min(_TONE_U * width, _TONE_MOST_MM)),
    ]
    return Budget(tuple(terms))


def _extreme(
    along: np.ndarray, width: np.ndarray, fit: GapFit, good: np.ndarray, sign: int, budget: Budget
) -> Extreme:
    """The largest (sign 1) or smallest (-1) mean over 2 mm of at least three good stations."""
    count = round(OVER_MM / STATION_MM)
    best = None
    for first in range(len(along) - count + 1):
        part = slice(first, first + count)
        mine = good[part]
        if mine.sum() < count - 1 or along[part][-1] - along[part][0] > OVER_MM:
            continue
        mean = float(width[part][mine].mean())
        if best is None or sign * mean > sign * best[0]:
            noise = float(np.sqrt((fit.own_u[part][mine] ** 2).sum()) / mine.sum())
            best = (mean, float(along[part].mean()), noise)
    if best is None:
        raise CannotMeasure("seam", "no gap")
    mean, at, noise = best
    return Extreme(mean, at, float(np.hypot(budget.combined, noise)))
