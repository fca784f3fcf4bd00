"""One judged quantity of a photo or of the live picture."""

from msgspec import Struct

from evidence_app.sentence import Sentence, sentence, sentences_beside


class Check(Struct, frozen=True):
    """One judged quantity: ``holds`` when ``value`` keeps to ``limit``."""

    name: str
    value: float
    limit: float
    unit: str
    holds: bool
    sentence: Sentence


CHECK_NAMES = sentences_beside(__file__)["names"]
"""How people call the checks of a journal."""


def at_most(name: str, value: float, limit: float, unit: str, good: Sentence, bad: Sentence) -> Check:
    holds = value <= limit
    return Check(name, round(value, 4), limit, unit, holds, (good if holds else bad))


def at_least(name: str, value: float, limit: float, unit: str, good: Sentence, bad: Sentence) -> Check:
    holds = value >= limit
    return Check(name, round(value, 4), limit, unit, holds, (good if holds else bad))


def card_sentence(seen: int, markers: int, whole: bool) -> Sentence:
    """On the scale card, of whose ``markers`` so many were ``seen``."""
    if whole:
        return sentence("The whole scale card is seen.")
    if seen >= markers:
        return sentence("More than one scale card is in the picture: leave only one.")
    if seen:
        return sentence(
            "Only {count} of the scale card's {all} markers can be read: have the whole card in "
            "the picture, nothing on it and no glare, or go nearer.",
            count=seen,
            all=markers,
        )
    return sentence("No scale card can be read: lay it flat beside the part, whole, sharp and well lit.")
