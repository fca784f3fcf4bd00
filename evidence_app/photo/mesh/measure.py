"""How a perforated strip lies in its opening beside the scale card, or a refusal.

The opening lies in the plane that the card lies on, the strip a little deeper. Edges that
were found in the plane of the card's face are moved to their own planes along the lines of
sight, outlines with rounded ends are fitted to them, and their middles, axes and clearances
are compared. What the recess adds is its depth times the tangent of the line of sight, so
a recess that is not known is taken as usual, with a wide uncertainty, and the camera must
then look straight down.

``along`` runs with the opening's long axis to the card's right, ``across`` at right angles
to it away from the card; ``rotation`` is positive from along towards across. The
clearances at the ``start`` and ``end`` are between the outermost points along the axis,
``near`` (to the card) and ``far`` across the middle of the opening.
"""

import cv2
import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from evidence_app.photo.card.bar import read_bar
from evidence_app.photo.card.light import CardLight
from evidence_app.photo.card.pose import Pose, grey_at
from evidence_app.photo.gap.measure import Card, read_card, unconfirmed_card
from evidence_app.photo.mesh.find import Groove, find_groove
from evidence_app.photo.mesh.fit import PARTS, Edges, fit_edges, lean_slopes
from evidence_app.photo.mesh.stadium import Stadium, StadiumFit, fit_stadium
from evidence_app.photo.mesh.uncertainty import LENGTHS, VALUES, budgets, leans, values_of
from evidence_app.photo.refusal import CannotMeasure
from evidence_app.photo.uncertainty import Budget, rectangular

MOST_TILT_DEG = 5.0  # of the camera when the recess is not known
MOST_TILT_KNOWN_DEG = 10.0
LEAST_AGREEING = 0.8
_LEAST_OF_A_PART = 0.3  # of a side's or an end's edges: an end left out misplaces the strip
_MOST_LEAN_DEG = 12.0  # of the line of sight to the strip
_LEDGE_MM = 0.17  # usual thickness of a strip: the wall of the opening goes on so far
_ROUNDS = (0.1, 0.02)  # mm that an edge may be off before it counts as an outlier
_LEAST_CONTRAST = 0.10  # of the darker side of the groove
_MOST_MISFIT = 0.15  # of the lighter side
_MOST_OFF_MM = 0.035  # root mean square distance of the edges from their outlines
_MOST_OWN_U_MM = 0.06  # median, of an edge at one station
_MOST_WHITE = 0.02
_MOST_PLAY_MM = 3.0  # between strip and opening, over both sides
_LEAST_WIDTH_MM = 0.8
_HOLE_INSIDE_MM = 0.05
_LEAST_FIELD = 0.5  # of the strip's length that has holes


class Recess(Struct, frozen=True):
    """How far the strip's face lies below the opening's rim, with its standard
    uncertainty, in mm; ``known`` when the step list or the user gave it."""

    mm: float
    u: float
    known: bool


# Strips lie between 0.1 and 0.5 mm deep (common practice, no source).
USUAL_RECESS = Recess(0.3, rectangular(0.2), False)


def known_recess(mm: float, tolerance_mm: float) -> Recess:
    """A recess that lies within a tolerance to either side."""
    return Recess(mm, rectangular(tolerance_mm), True)


class MeshSeen(Struct, frozen=True, eq=False):
    """``values`` in mm and degrees and their ``budgets`` by the names of
    mesh_uncertainty.VALUES; ``strip`` and ``opening`` in true mm of the card's axes,
    ``seen_strip`` and ``seen_opening`` as they appear in the plane of the card's face."""

    values: dict[str, float]
    budgets: dict[str, Budget]
    strip: Stadium
    opening: Stadium
    seen_strip: Stadium
    seen_opening: Stadium
    side: int
    edges: Edges
    agreeing: float
    lean_along_deg: float
    lean_across_deg: float
    tilt_deg: float
    pose: Pose
    mm_per_pixel: float
    recess: Recess
    card: Card
    bar: float


def measure_mesh(luma: np.ndarray, card: Card | None = None, recess: Recess = USUAL_RECESS) -> MeshSeen:
    """The strip in a photo's brightness channel (H, W) uint8. Raises CannotMeasure."""
    card = card or unconfirmed_card()
    pose, light = read_card(luma)
    limit = MOST_TILT_KNOWN_DEG if recess.known else MOST_TILT_DEG
    if pose.tilt_deg > limit:
        raise _tilted(pose.tilt_deg, recess)
    groove = find_groove(luma, pose)
    try:
        edges, strip, opening = _fitted(luma, pose, light, groove, recess)
        depth = card.thickness_mm
        inner, outer = edges.u
        true_strip = fit_stadium(
            _at_depth(pose, edges.inner_points, depth + recess.mm), inner, strip.outline
        )
        true_opening = fit_stadium(_at_depth(pose, edges.outer_points, depth), outer, opening.outline)
    except np.linalg.LinAlgError as error:
        raise CannotMeasure("strip", "no opening") from error
    _require_mesh(luma, pose, groove, edges, (true_strip, true_opening))
    along, across = leans(pose, true_opening.outline, groove.side)
    if np.hypot(along, across) > np.tan(np.radians(_MOST_LEAN_DEG)):
        raise _tilted(float(np.degrees(np.arctan(np.hypot(along, across)))), recess)
    values = values_of(true_strip.outline, true_opening.outline, groove.side)
    values *= np.where(LENGTHS, card.scale, 1.0)
    bar = read_bar(luma, pose)
    known = replace(card, scale_u=float(np.hypot(card.scale_u, card.misprint(bar))))
    found = budgets(values, true_strip, true_opening, groove.side, edges, pose, recess.mm, recess.u, known)
    return MeshSeen(
        values=dict(zip(VALUES, values.tolist(), strict=True)),
        budgets=found,
        strip=true_strip.outline,
        opening=true_opening.outline,
        seen_strip=strip.outline,
        seen_opening=opening.outline,
        side=groove.side,
        edges=edges,
        agreeing=float(min(true_strip.good.mean(), true_opening.good.mean())),
        lean_along_deg=float(np.degrees(np.arctan(along))),
        lean_across_deg=float(np.degrees(np.arctan(across))),
        tilt_deg=pose.tilt_deg,
        pose=pose,
        mm_per_pixel=1 / pose.pixels_per_mm(strip.outline.x, strip.outline.y)[1],
        recess=recess,
        card=card,
        bar=bar,
    )


def _tilted(degrees: float, recess: Recess) -> CannotMeasure:
    if recess.known:
        return CannotMeasure("strip", "tilted", degrees=degrees)
    return CannotMeasure("strip of unknown depth", "tilted", degrees=degrees)


def _fitted(
    luma: np.ndarray, pose: Pose, light: CardLight, groove: Groove, recess: Recess
) -> tuple[Edges, StadiumFit, StadiumFit]:
    """Edges and outlines as they appear in the plane of the card's face."""
    strip, opening = groove.strip, groove.opening
    for least in _ROUNDS:
        edges = fit_edges(luma, pose, light, strip, opening, recess.mm + _LEDGE_MM)
        inner, outer = edges.u
        strip_fit = fit_stadium(edges.inner_points, inner, strip, least=least)
        opening_fit = fit_stadium(edges.outer_points, outer, opening, least=least)
        strip, opening = strip_fit.outline, opening_fit.outline
    return edges, strip_fit, opening_fit


def _at_depth(pose: Pose, points: np.ndarray, depth: float) -> np.ndarray:
    """Where the lines of sight to points of the card's face meet the plane below it."""
    return points + depth * lean_slopes(pose, points)


def _require_mesh(
    luma: np.ndarray, pose: Pose, groove: Groove, edges: Edges, fits: tuple[StadiumFit, StadiumFit]
) -> None:
    """Whatever does not look like a perforated strip in its opening is refused."""
    strip, opening = (fit.outline for fit in fits)
    if edges.white.mean() > _MOST_WHITE or _white(luma, pose, strip) > _MOST_WHITE:
        raise CannotMeasure("strip", "glare")
    good = (
        fits[0].good
        & fits[1].good
        & (edges.contrast > _LEAST_CONTRAST * edges.level)
        & (edges.misfit < _MOST_MISFIT * edges.level + 0.005)
    )
    off = [float(np.sqrt(np.mean(fit.off[fit.good] ** 2))) for fit in fits]
    play = opening.width - strip.width, opening.length - strip.length
    if (
        good.mean() < LEAST_AGREEING
        or min(good[np.isin(edges.group, part)].mean() for part in PARTS) < _LEAST_OF_A_PART
        or max(off) > _MOST_OFF_MM
        or max(float(np.median(u)) for u in edges.u) > _MOST_OWN_U_MM
        or not 0 < min(play) <= max(play) < _MOST_PLAY_MM
        or strip.width < _LEAST_WIDTH_MM
    ):
        raise CannotMeasure("strip", "no opening")
    inside = strip.distance(groove.holes) < -_HOLE_INSIDE_MM
    along, _ = strip.own(groove.holes[inside])
    if inside.mean() < 0.9 or np.ptp(along) < _LEAST_FIELD * strip.length:
        raise CannotMeasure("opening", "no mesh")


def _white(luma: np.ndarray, pose: Pose, strip: Stadium) -> float:
    """Share of the strip's face that is clipped."""
    along = np.linspace(-strip.length / 2, strip.length / 2, 120)[None, :]
    across = np.linspace(-strip.width / 2, strip.width / 2, 24)[:, None]
    points = strip.place(*np.broadcast_arrays(along, across))
    u, v = pose.to_pixels(points[..., 0], points[..., 1])
    return float((grey_at(luma, u, v, cv2.INTER_NEAREST) >= 253).mean())
