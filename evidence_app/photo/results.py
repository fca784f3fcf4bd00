"""What the results of all measurements have in common: rounding, limits, units, what is said of
the card, and how a photo's bytes become the brightness that is measured on."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from msgspec import Struct

from evidence_app.photo import intake
from evidence_app.photo.gap.measure import Card
from evidence_app.photo.refusal import CannotMeasure
from evidence_app.photo.uncertainty import Budget, Conformity
from evidence_app.sentence import Sentence, joined, sentence, sentences_beside, to_fields
from evidence_app.steplist.model import Measurement

BARS = ("check_bar_mm", "reference_check_bar_mm", "second_check_bar_mm")
"""Where a result says what the card's check bar measures in its photo and in those beside it."""


class Beside(Struct, frozen=True):
    """What a measurement may need beside its photo: what is known of the scale card, the clean
    photo to compare with, and another photo of the same state from another angle."""

    card: Card | None = None
    reference: bytes | None = None
    second: bytes | None = None


def unmirrored_luma(data: bytes) -> np.ndarray:
    """Brightness (H, W) uint8 of a JPEG, as the scene is. Raises EvidenceError."""
    header = intake.read_header(data)
    luma = intake.decode_luma(data)
    if header.mirrored:
        luma = np.ascontiguousarray(luma[:, ::-1])
    return luma


def mm(value: float) -> float:
    return round(float(value), 4)


def known_mm(value: float) -> float | None:
    return None if np.isnan(value) else mm(value)


def lines(budget: Budget) -> list[dict]:
    return [{"term": term.name, "u_mm": round(float(term.u), 5)} for term in budget.terms]


def worded(said: Sentence) -> dict[str, Any]:
    """A result's sentence in English, and its templates and values for other languages."""
    return {"sentence": str(said), "wording": to_fields(said)}


def noted(notes: Sequence[Sentence]) -> dict[str, Any]:
    """What the reader should know beside the numbers: in English, and the templates and values
    of each note."""
    return {"reasons": [str(note) for note in notes], "reasons_wording": [to_fields(n) for n in notes]}


def judged(size: Sentence, asked: Measurement, verdict: Conformity, otherwise: Sentence) -> Sentence:
    """``size`` in words, then whether it keeps its limits, as far as the uncertainty allows to
    tell; ``otherwise`` says what to do where it does not."""
    limits = " … ".join(f"{limit:g}" for limit in (asked.at_least, asked.at_most) if limit is not None)
    if not limits:
        return joined(" ", [size, sentence("No limit is given.")])
    kind = "most" if asked.at_least is None else "least" if asked.at_most is None else "both"
    said = Sentence(_SAID[verdict][kind].template, (("limits", limits),))
    return joined(" ", [size, said, *([otherwise] if verdict is Conformity.INCONCLUSIVE else [])])


_SAID = sentences_beside(__file__)


def require_unit(asked: Measurement) -> None:
    """Raises CannotMeasure when the step list's limits are in another unit than the kind's."""
    kind = asked.kind.rules
    if asked.unit not in (None, kind.unit):
        units = {"unit": kind.unit, "unit2": asked.unit}
        raise CannotMeasure("any", "unit", named=kind.name, **units)


def card_fields(card: Card) -> dict[str, Any]:
    """What a result says of the card: which, and its pitch where that was confirmed."""
    if not card.confirmed:
        return {"serial": None, "confirmed": False}
    return {
        "serial": card.serial,
        "confirmed": True,
        "scale": card.scale,
        "scale_u": card.scale_u,
        "thickness_mm": card.thickness_mm,
        "thickness_u_mm": card.thickness_u,
    }


def card_said(card: Card, bar: float) -> list[Sentence]:
    said = []
    if not card.confirmed:
        said.append(
            sentence("The card's print scale was not confirmed with a rule; the uncertainty allows for it.")
        )
    if off := card.misprint(bar):
        said.append(
            sentence(
                "The card's check bar is {percent:+.2f} percent off beside its markers, more than its scale "
                "allows. Print a new card; the uncertainty allows for it.",
                percent=100 * off,
            )
        )
    return said
