"""Why a photo gives no measurement, and what to do about it."""

from string import Formatter

from evidence_app.errors import EvidenceError
from evidence_app.sentence import NOTHING, Sentence, sentences_beside

_WORDS = sentences_beside(__file__)


class CannotMeasure(EvidenceError):
    """The photo is a photo, but what is wanted cannot be measured on it.

    ``reason`` is a short word for tables and tests; the sentences for people stand under it in
    the table ``of`` of the words beside this module, and have places for ``values``.
    """

    def __init__(self, of: str, reason: str, /, where: str = "", **values: object) -> None:
        self.reason = reason
        said = _WORDS[of][reason]
        what, remedy = (_filled(said.get(part, NOTHING), values) for part in ("what", "remedy"))
        super().__init__(what, where=where, remedy=remedy)


def _filled(said: Sentence, values: dict[str, object]) -> Sentence:
    """The sentence with those values that it has places for."""
    places = {place for _, place, _, _ in Formatter().parse(said.template)}
    return Sentence(said.template, tuple(each for each in values.items() if each[0] in places))
