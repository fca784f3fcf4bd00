"""The one place where a kind of measurement is registered.

Everything else about a kind is in the folder of its name in ``photo/``, whose ``result.py`` has
``measured``: the fitting, the result with its sentence, the drawing.
"""

from enum import StrEnum

from msgspec import Struct

from evidence_app.sentence import Sentence, sentence, verbatim


class KindRules(Struct, frozen=True):
    """How a kind is called, the ``unit`` of its value and its limits, whether a step list must
    give it a limit, and the keys of ``Measurement`` that are of this kind. A kind that has the
    key ``reference`` needs it."""

    name: Sentence
    unit: str
    limited: bool = True
    keys: tuple[str, ...] = ()


class MeasurementKind(StrEnum):
    """What can be measured on a photo with the scale card in view."""

    GAP = "gap"
    MESH = "mesh"
    RESIDUE = "residue"

    @property
    def rules(self) -> KindRules:
        return _RULES[self]


def kind_words(kind: str) -> Sentence:
    """How people call a kind; the word itself where it is none of these."""
    return MeasurementKind(kind).rules.name if kind in list(MeasurementKind) else verbatim(kind)


_RULES = {
    MeasurementKind.GAP: KindRules(sentence("gap"), "mm"),
    MeasurementKind.MESH: KindRules(sentence("mesh"), "mm", keys=("recess", "recess-tolerance")),
    MeasurementKind.RESIDUE: KindRules(sentence("residue"), "mm2", False, ("reference", "second")),
}
