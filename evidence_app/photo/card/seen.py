"""Whether the scale card lies whole in a picture: for the viewfinder and for the gate."""

import cv2
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


def laid_over(photo: np.ndarray, other: np.ndarray) -> np.ndarray | None:
    """``other`` as seen from where ``photo`` was taken, in the plane of the card that lies in both:
    of the size of ``photo``, black where it shows nothing; None where no whole card is seen. Both
    (H, W, 3) uint8 BGR. To be looked at, not measured on."""
    here, there = (see_card(cv2.cvtColor(each, cv2.COLOR_BGR2GRAY)).corners for each in (photo, other))
    if here is None or there is None:
        return None
    plane, _ = cv2.findHomography(there.reshape(-1, 2), here.reshape(-1, 2))
    return cv2.warpPerspective(other, plane, photo.shape[1::-1], flags=cv2.INTER_LINEAR)
