"""Whether the scale card lies whole in a picture: for the viewfinder and for the gate."""

import numpy as np
from msgspec import Struct

from evidence_app.language import mark
from evidence_app.photo.card.find import glance
from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.gate.check import Check, card_sentence


class CardSeen(Struct, frozen=True, eq=False):
    """``check`` counts the markers that are read (0 to 4) and holds with all of exactly one
    card; then ``corners`` are theirs, (4, 4, 2) in pixels of the picture, good to a pixel or
    two."""

    check: Check
    corners: np.ndarray | None


def mm_per_pixel(corners: np.ndarray) -> float:
    """At the card, the mean over all sides of its markers; ``corners`` as above."""
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2)
    return card_layout().markers.side / float(sides.mean())


def see_card(luma: np.ndarray) -> CardSeen:
    """Looks for the card in ``luma`` (H, W) uint8."""
    seen = glance(luma)
    known = [marker.id for marker in card_layout().markers.at]
    several = any(len(quads) > 1 for quads in seen.values())
    whole = len(seen) == len(known) and not several
    count = len(known) if several else len(seen)
    told = card_sentence(count, len(known), whole)
    check = Check("card", float(count), float(len(known)), mark("markers"), whole, told)
    return CardSeen(check, np.array([seen[n][0] for n in known]) if whole else None)
