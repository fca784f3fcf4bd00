"""What the results of all measurements have in common: rounding, limits, units, what is said of
the card, and how a photo's bytes become the brightness that is measured on."""

from __future__ import annotations

from typing import Any

import numpy as np
from msgspec import Struct

from evidence_app.photo import intake
from evidence_app.photo.gap.measure import Card
from evidence_app.photo.refusal import CannotMeasure
from evidence_app.photo.uncertainty import Budget, Conformity
from evidence_app.steplist.model import Measurement


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


def lines(budget: Budget) -> list[dict]:
    return [{"term": term.name, "u_mm": round(float(term.u), 5)} for term in budget.terms]


def limits_said(asked: Measurement) -> str:
    """Empty when there is no limit."""
    low = f"at least {asked.at_least:g} mm" if asked.at_least is not None else ""
    high = f"at most {asked.at_most:g} mm" if asked.at_most is not None else ""
    if low and high:
        return f"the limits of {low} and {high}"
    return f"the limit of {low or high}" if low or high else ""


def judged(size: str, asked: Measurement, verdict: Conformity, otherwise: str) -> str:
    """``size`` in words, then whether it keeps its limits, as far as the uncertainty allows to
    tell; ``otherwise`` says what to do where it does not."""
    limits = limits_said(asked)
    if not limits:
        return f"{size} No limit is given."
    said = {
        Conformity.WITHIN: f"It keeps {limits} with the uncertainty allowed for.",
        Conformity.OUTSIDE: f"It does not keep {limits}, even with the uncertainty allowed for.",
        Conformity.INCONCLUSIVE: f"Whether it keeps {limits} cannot be told: the uncertainty "
        f"reaches over it. {otherwise}",
    }[verdict]
    return f"{size} {said}"


def require_unit(asked: Measurement, unit: str, what: str) -> None:
    """Raises CannotMeasure when the step list's limits on ``what`` are in another unit."""
    if asked.unit not in (None, unit):
        raise CannotMeasure(
            "unit",
            f"{what} is measured in {unit}, not in {asked.unit}",
            f"give the limits in {unit} in the step list",
        )


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


def card_said(card: Card) -> list[str]:
    if card.confirmed:
        return []
    return ["The card's print scale was not confirmed with a rule; the uncertainty allows for it."]
