"""How a strip lies on a photo's bytes, as plain values for the journal, with its drawing.

The value that the limits of a step list are about is the distance between the middles of
strip and opening; offsets, rotation and the four clearances stand beside it.
"""

from typing import Any

import numpy as np

from evidence_app.language import mark
from evidence_app.photo import results
from evidence_app.photo.mesh.drawing import draw_mesh
from evidence_app.photo.mesh.measure import USUAL_RECESS, MeshSeen, Recess, known_recess, measure_mesh
from evidence_app.photo.uncertainty import COVERAGE_FACTOR, GUARD_FACTOR, Conformity, conformity
from evidence_app.sentence import Sentence, sentence, sentences_beside
from evidence_app.steplist.model import USUAL_RECESS_TOLERANCE, Measurement

MESH_METHOD = mark(
    "outlines with rounded ends fitted to the edges of the groove round the strip, in "
    "linear light, blur taken from the edges of the scale card, edges moved to their "
    "own depths along the lines of sight; U with k = 2 after JCGM 100, guard band of "
    "1.65 u after ISO 14253-1; second version"
)
_DIGITS_DEG = 3
_CLEARANCES = ("start", "end", "near", "far")


def measured(data: bytes, asked: Measurement, beside: results.Beside) -> tuple[dict[str, Any], bytes]:
    """Result and PNG. Raises EvidenceError when nothing can be said."""
    results.require_unit(asked)
    luma = results.unmirrored_luma(data)
    mesh = measure_mesh(luma, beside.card, _recess(asked))
    distance = mesh.budgets["distance"]
    verdict = conformity(mesh.values["distance"], distance.combined, asked.at_least, asked.at_most)
    result: dict[str, Any] = {
        "kind": "mesh",
        "unit": "mm",
        "value": results.mm(mesh.values["distance"]),
        "U": results.mm(distance.expanded()),
        "k": COVERAGE_FACTOR,
        "conformity": verdict.value,
        "method": MESH_METHOD,
        **results.worded(_sentence(mesh, asked, verdict)),
        "at_least": asked.at_least,
        "at_most": asked.at_most,
        "along": _length(mesh, "along"),
        "across": _length(mesh, "across"),
        "rotation": {
            "value_deg": round(mesh.values["rotation"], _DIGITS_DEG),
            "U_deg": round(mesh.budgets["rotation"].expanded(), _DIGITS_DEG),
        },
        "clearances": {name: _length(mesh, name) for name in _CLEARANCES},
        "strip_mm": {"length": results.mm(mesh.strip.length), "width": results.mm(mesh.strip.width)},
        "opening_mm": {"length": results.mm(mesh.opening.length), "width": results.mm(mesh.opening.width)},
        "stations_agreeing": round(mesh.agreeing, 3),
        "budget": results.lines(distance),
        "budgets": {name: results.lines(mesh.budgets[name]) for name in ("along", "across", *_CLEARANCES)},
        "recess": {
            "mm": results.mm(mesh.recess.mm),
            "u_mm": results.mm(mesh.recess.u),
            "known": mesh.recess.known,
        },
        "lean_along_deg": round(mesh.lean_along_deg, 2),
        "lean_across_deg": round(mesh.lean_across_deg, 2),
        "tilt_deg": round(mesh.tilt_deg, 2),
        "mm_per_pixel": round(float(mesh.mm_per_pixel), 5),
        "card": results.card_fields(mesh.card),
        "check_bar_mm": results.known_mm(mesh.bar),
        **results.noted(_notes(mesh)),
    }
    return result, draw_mesh(luma, mesh, asked.at_most)


def _recess(asked: Measurement) -> Recess:
    if asked.recess is None:
        return USUAL_RECESS
    return known_recess(asked.recess, asked.recess_tolerance or USUAL_RECESS_TOLERANCE)


def _length(mesh: MeshSeen, name: str) -> dict[str, float]:
    return {"value_mm": results.mm(mesh.values[name]), "U_mm": results.mm(mesh.budgets[name].expanded())}


def _sentence(mesh: MeshSeen, asked: Measurement, verdict: Conformity) -> Sentence:
    values = mesh.values
    size = sentence(
        "The strip is {distance:.2f} mm off centre in its opening (U = {U:.2f} mm, k = 2): {along} mm "
        "along, {across} mm across, turned by {turned} degrees.",
        distance=values["distance"],
        U=mesh.budgets["distance"].expanded(),
        along=_rounded(values["along"], 2),
        across=_rounded(values["across"], 2),
        turned=_rounded(values["rotation"], 1),
    )
    return results.judged(size, asked, verdict, sentence("Judge by eye, or use a gauge."))


def _rounded(value: float, digits: int) -> str:
    """Without the sign of a zero."""
    return f"{round(value, digits) + 0.0:.{digits}f}"


def _notes(mesh: MeshSeen) -> list[Sentence]:
    said = results.card_said(mesh.card, mesh.bar)
    least = min(_CLEARANCES, key=mesh.values.__getitem__)
    size = {"least": float(mesh.values[least]), "U": float(mesh.budgets[least].expanded())}
    said.append(Sentence(_LEAST[least].template, tuple(size.items())))
    if not mesh.recess.known:
        said.append(
            sentence(
                "How deep the strip lies is not known; {recess:g} mm (standard uncertainty {u:.2f} mm) is "
                "taken.",
                recess=mesh.recess.mm,
                u=mesh.recess.u,
            )
        )
    if mesh.agreeing < 1:
        said.append(
            sentence(
                "{percent} percent of the places round the strip were left out because they do not "
                "look like the rest.",
                percent=int(np.ceil(100 * (1 - mesh.agreeing))),
            )
        )
    said.append(sentence("Guard band {factor:g} u.", factor=GUARD_FACTOR))
    return said


_LEAST = sentences_beside(__file__)["least"]
