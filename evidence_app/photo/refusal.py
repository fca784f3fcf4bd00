"""Why a photo gives no measurement, and what to do about it."""

from evidence_app.errors import EvidenceError
from evidence_app.sentence import Sentence


class CannotMeasure(EvidenceError):
    """The photo is a photo, but what is wanted cannot be measured on it.

    ``reason`` is a short word for tables and tests; the sentence is for people.
    """

    def __init__(self, reason: str, what: Sentence, remedy: Sentence) -> None:
        self.reason = reason
        super().__init__(what, remedy=remedy)
