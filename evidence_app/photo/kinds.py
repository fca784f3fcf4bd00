"""The one place where a kind of measurement is registered with what measures it.

A kind's own folder holds all else of it: fitting, result with its sentence, drawing.
"""

from collections.abc import Callable
from typing import Any

from evidence_app.photo.gap.result import measured_gap
from evidence_app.photo.mesh.result import measured_mesh
from evidence_app.photo.residue.result import measured_residue
from evidence_app.photo.results import Beside
from evidence_app.steplist.model import Measurement, MeasurementKind

MeasureKind = Callable[[bytes, Measurement, Beside], tuple[dict[str, Any], bytes]]

KINDS: dict[MeasurementKind, MeasureKind] = {
    MeasurementKind.GAP: measured_gap,
    MeasurementKind.MESH: measured_mesh,
    MeasurementKind.RESIDUE: measured_residue,
}
