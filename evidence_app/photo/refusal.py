"""Why a photo gives no measurement, and what to do about it."""

from typing import Any

from evidence_app.errors import EvidenceError
from evidence_app.photo.uncertainty import Conformity
from evidence_app.sentence import NOTHING, sentences_beside, to_fields

_WORDS = sentences_beside(__file__)


class CannotMeasure(EvidenceError):
    """The photo is a photo, but what is wanted cannot be measured on it.

    ``reason`` is a short word for tables and tests; the sentences for people stand under it in
    the table ``of`` of the words beside this module, and have places for ``values``.
    """

    def __init__(self, of: str, reason: str, /, where: str = "", **values: object) -> None:
        self.reason = reason
        said = _WORDS[of][reason]
        remedy = said.get("remedy", NOTHING).filled(values)
        super().__init__(said["what"].filled(values), where=where, remedy=remedy)


def refused(kind: str, unit: str, problem: EvidenceError) -> dict[str, Any]:
    """The result of a measurement that gave none, with the templates of what is wrong and of what
    to do."""
    told = problem.sentence()
    return {
        "kind": kind,
        "unit": unit,
        "value": None,
        "U": None,
        "conformity": Conformity.REFUSED.value,
        "method": "none",
        "sentence": told[:1].upper() + told[1:],
        "wording": [fields for part in (problem.what, problem.remedy) for fields in to_fields(part)],
        "reasons": [getattr(problem, "reason", "photo")],
    }
