"""What the results of all measurements have in common: rounding, limits, what is said of
the card, and how a photo's bytes become the brightness that is measured on."""

from __future__ import annotations

import numpy as np

from evidence_app.photo import intake
from evidence_app.photo.gap import Card
from evidence_app.photo.uncertainty import Budget
from evidence_app.steplist.model import Measurement

# Exif orientations that mirror: their stored pixels are the mirror image of the scene.
_MIRRORING = (2, 4, 5, 7)


def unmirrored_luma(data: bytes) -> np.ndarray:
    """Brightness (H, W) uint8 of a JPEG, as the scene is. Raises EvidenceError."""
    header = intake.read_header(data)
    luma = intake.decode_luma(data)
    if header.orientation in _MIRRORING:
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


def card_said(card: Card) -> list[str]:
    if card.confirmed:
        return []
    return ["The card's print scale was not confirmed with a rule; the uncertainty allows for it."]
