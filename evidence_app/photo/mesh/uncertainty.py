"""The numbers of a strip in its opening and their uncertainty budgets (JCGM 100:2008).

Each value is a function of the two outlines, so its sensitivities to their ten parameters
are taken by small differences (GUM 5.1.3, note 2); what moves strip against opening as a
whole, such as the recess, is entered by its direction.
"""

import numpy as np

from evidence_app.photo.card.pose import Pose
from evidence_app.photo.gap.measure import LENS_U, Card
from evidence_app.photo.mesh.fit import Edges, lean_slopes
from evidence_app.photo.mesh.stadium import PARAMETERS, Stadium, StadiumFit, stadium_of
from evidence_app.photo.uncertainty import Budget, Term

VALUES = ("along", "across", "rotation", "distance", "start", "end", "near", "far")
LENGTHS = np.array([name != "rotation" for name in VALUES])

_LEAN_FLOOR = 0.009  # tangent: half a degree
# Light and shade in the groove move an edge by this (standard deviation, mm): on practice
# scenes of the tuning seeds, with recess and camera known.
_SHADE_U_MM = 0.007
# Of the visible width of the opening's wall; its light is not known.
_WALL_U = 0.25


def values_of(strip: Stadium, opening: Stadium, side: int) -> np.ndarray:
    """The VALUES (8,) in mm and degrees."""
    along, across = opening.own(np.array([strip.x, strip.y]))
    turn = strip.lean - opening.lean
    half = strip.straight * np.cos(turn) + strip.radius
    middle = across - along * np.tan(turn)
    thick = strip.radius / np.cos(turn)
    below = opening.radius + middle - thick
    above = opening.radius - middle - thick
    near, far = (below, above) if side > 0 else (above, below)
    return np.array(
        [
            along,
            side * across,
            side * np.degrees(turn),
            np.hypot(along, across),
            opening.length / 2 + along - half,
            opening.length / 2 - along - half,
            near,
            far,
        ]
    )


def budgets(
    values: np.ndarray,
    strip: StadiumFit,
    opening: StadiumFit,
    side: int,
    edges: Edges,
    pose: Pose,
    recess_mm: float,
    recess_u: float,
    card: Card,
) -> dict[str, Budget]:
    """A budget for each of VALUES."""
    terms: dict[str, np.ndarray] = {}
    terms["edges in the picture"] = _edge_u(strip, opening, side, edges)
    slope, slope_u = _line_of_sight(pose, opening.outline, side)
    terms["recess of the strip"] = recess_u * _moved(values, *slope, signed=True)
    terms["direction of the camera"] = recess_mm * _moved(values, *slope_u, signed=False)
    wall = [_WALL_U * depth for depth in _walls(edges, opening.outline, side)]
    terms["wall of the opening"] = _by_edges(values, wall, opening.outline.straight)
    shade = _by_edges(values, [_SHADE_U_MM] * 4, opening.outline.straight)
    terms["light and shade in the groove"] = shade
    size = np.abs(values) * LENGTHS
    terms["scale of the card"] = size * card.scale_u
    terms["height of the card"] = size * card.thickness_u / pose.distance_mm
    terms["lens beside the card"] = size * LENS_U
    return {
        name: Budget(tuple(Term(term, float(u[number])) for term, u in terms.items()))
        for number, name in enumerate(VALUES)
    }


def _edge_u(strip: StadiumFit, opening: StadiumFit, side: int, edges: Edges) -> np.ndarray:
    """Noise of the edges, and what each stretch of the groove has in common, through both
    fits to the values. The scatter about the outlines counts when it is the larger."""
    count = len(edges.inner)
    scatter = np.concatenate(
        [np.full(count, np.sqrt(np.mean(fit.off[fit.good] ** 2))) for fit in (strip, opening)]
    )
    # Neighbouring stations share what moves them off the outline: five count as one.
    cov = edges.cov + np.diag(5 * np.maximum(0, scatter**2 - np.diag(edges.cov)))
    pull = np.zeros((2 * PARAMETERS, 2 * count))
    pull[:PARAMETERS, :count], pull[PARAMETERS:, count:] = strip.pull, opening.pull
    of_parameters = pull @ cov @ pull.T
    at = np.concatenate([strip.outline.vector(), opening.outline.vector()])
    step = 1e-5
    slopes = np.column_stack(
        [
            (_values_at(at + move, side) - _values_at(at - move, side)) / (2 * step)
            for move in step * np.eye(len(at))
        ]
    )
    return np.sqrt(np.maximum(0, np.einsum("ij,jk,ik->i", slopes, of_parameters, slopes)))


def _values_at(parameters: np.ndarray, side: int) -> np.ndarray:
    return values_of(stadium_of(parameters[:PARAMETERS]), stadium_of(parameters[PARAMETERS:]), side)


def leans(pose: Pose, opening: Stadium, side: int, focal: float = 1.0) -> np.ndarray:
    """Tangents (2,) of the line of sight to the opening, along and across it; ``focal`` as in
    ``lean_slopes``."""
    slope = lean_slopes(pose, np.array([[opening.x, opening.y]]), focal)[0]
    along, across = opening.axes
    return np.array([slope @ along, side * (slope @ across)])


def _line_of_sight(
    pose: Pose, opening: Stadium, side: int
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Tangents along and across, and their standard uncertainties: mostly the focal
    length's, which is seen only as far as the card is tilted."""
    longer, shorter = (leans(pose, opening, side, by) for by in (1 + pose.focal_u, 1 / (1 + pose.focal_u)))
    u = np.hypot(np.abs(longer - shorter) / 2, _LEAN_FLOOR)
    here = leans(pose, opening, side)
    return (float(here[0]), float(here[1])), (float(u[0]), float(u[1]))


def _moved(values: np.ndarray, along: float, across: float, signed: bool) -> np.ndarray:
    """By how much the values follow when the strip moves by a vector; not ``signed``: by two
    moves that have nothing to do with each other."""
    distance = _distance(values, along, across, signed)
    return np.abs([along, across, 0.0, distance, along, along, across, across])


def _distance(values: np.ndarray, along: float, across: float, signed: bool = False) -> float:
    """What moves of the two offsets do to the distance; near 0 the larger counts whole."""
    far = float(values[3])
    if far < 2 * max(abs(along), abs(across)) + 1e-6:
        return max(abs(along), abs(across))
    a, c = along * values[0] / far, across * values[1] / far
    return float(a + c) if signed else float(np.hypot(a, c))


def _walls(edges: Edges, opening: Stadium, side: int) -> list[float]:
    """The widest wall seen at start, end, near and far."""
    along, across = opening.axes
    toward = (-along, along, -side * across, side * across)
    return [float(edges.wall[edges.normals @ way > 0.7].max(initial=0.0)) for way in toward]


def _by_edges(values: np.ndarray, u: list[float], straight: float) -> np.ndarray:
    """Independent moves of the groove's edges at start, end, near and far: a middle moves
    by half of each of its two."""
    start, end, near, far = u
    along, across = np.hypot(start, end) / 2, np.hypot(near, far) / 2
    turn = np.degrees(across / max(straight, 1.0))
    return np.array([along, across, turn, _distance(values, along, across), start, end, near, far])
