"""Why a photo gives no measurement, and what to do about it."""

from evidence_app.errors import EvidenceError
from evidence_app.sentence import NOTHING, sentences_beside

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
