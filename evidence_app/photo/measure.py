"""Measures on a photo what the step list wants: one call for guide and command line.

Returns plain values that can stand in the journal. Whatever cannot be measured comes
back with the conformity ``refused`` and a sentence that says what to do; no photo, however
bad, raises anything.
"""

from collections.abc import Callable
from importlib import import_module
from typing import Any

import cv2
import numpy as np

from evidence_app.errors import EvidenceError
from evidence_app.photo.gap.measure import Card
from evidence_app.photo.refusal import CannotMeasure, refused
from evidence_app.photo.results import Beside
from evidence_app.steplist.kinds import MeasurementKind
from evidence_app.steplist.model import Measurement, PhotoWanted

Measured = tuple[dict[str, Any], bytes | None]


def measure(
    data: bytes,
    wanted: PhotoWanted,
    reference: bytes | None = None,
    card: Card | None = None,
    second: bytes | None = None,
) -> Measured:
    """The result of ``wanted.measurement`` on a photo's bytes, and its drawing as PNG.

    ``reference`` is the clean photo that a comparison needs; ``card`` what is known of
    the scale card, None when its batch was not confirmed; ``second`` another photo of the
    same state, for residue.
    """
    asked = wanted.measurement
    if asked is None:
        return refused("", "", CannotMeasure("any", "nothing")), None
    try:
        return _measuring(asked.kind)(data, asked, Beside(card, reference, second))
    except EvidenceError as problem:
        return refused(asked.kind.value, asked.unit or "mm", problem), None
    except (ArithmeticError, ValueError, IndexError, np.linalg.LinAlgError, cv2.error) as problem:
        # Numbers that no photo met in the trials gives; the photo stays, the job goes on.
        unknown = CannotMeasure("any", "numbers", problem=problem)
        return refused(asked.kind.value, asked.unit or "mm", unknown), None


def _measuring(
    kind: MeasurementKind,
) -> Callable[[bytes, Measurement, Beside], tuple[dict[str, Any], bytes]]:
    """What measures a kind stands in the folder of its name, and is loaded when it is asked for."""
    return import_module(f"evidence_app.photo.{kind.value}.result").measured
