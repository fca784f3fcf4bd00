"""How much of a picture is lost in the dark, in white, or under glare.

Judged on a small copy of the brightness channel, (H, W) uint8.
"""

import cv2
import numpy as np

from evidence_app.language import mark
from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.gate.check import Check, at_most
from evidence_app.sentence import sentence

MOST_SHADOW = 0.3
MOST_HIGHLIGHT = 0.08
MOST_GLARE = 0.02
# Grey levels: below 0.9 percent of full light a sensor gives noise, above 92 percent the
# tone curve leaves no detail.
DARK, WHITE = 24, 246
_LIT = 64  # what a picture must reach somewhere to be lit at all: 5 percent of full light
_LEAST_LIT = 0.02
_GLARE_TILE = 8  # pixels
_BESIDE_CARD_MM = 10.0  # from the card's long sides: there lies the seam that is measured
_ELSEWHERE = 0.2  # weight of what matters little against what matters most


def shadows(small: np.ndarray) -> Check:
    """The share that is lost in the dark; all of it when hardly anything is lit."""
    lit = _share(small >= _LIT) >= _LEAST_LIT
    return at_most(
        "shadows",
        _share(small < DARK) if lit else 1.0,
        MOST_SHADOW,
        mark("share of picture"),
        sentence("The dark parts keep their detail."),
        sentence("Bring more light onto the part and take it again."),
    )


def highlights(small: np.ndarray) -> Check:
    return at_most(
        "highlights",
        _share(small >= WHITE),
        MOST_HIGHLIGHT,
        mark("share of picture"),
        sentence("The bright parts keep their detail."),
        sentence("Lower the exposure or soften the light and take it again."),
    )


def glare(small: np.ndarray, card: np.ndarray | None = None) -> Check:
    """Tiles that are white through and through: nothing can be read there any more.

    ``card`` are the corners (4, 4, 2) of the scale card's markers in pixels of ``small``:
    then the card and the strips along it count most, else the middle of the picture.
    """
    rows, columns = small.shape[0] // _GLARE_TILE, small.shape[1] // _GLARE_TILE
    value = 0.0
    if rows and columns:
        tiled = small[: rows * _GLARE_TILE, : columns * _GLARE_TILE]
        white = cv2.compare(tiled, WHITE, cv2.CMP_GE)  # type: ignore[call-overload]  # its stubs know no number here
        blind = cv2.resize(white, (columns, rows), interpolation=cv2.INTER_AREA) == 255
        weight = (
            _middle_weight(rows, columns)
            if card is None
            else _card_weight(rows, columns, card / _GLARE_TILE)
        )
        value = float(weight[blind].sum() / weight.sum())
    unit = (
        "share of picture, middle counts most"
        if card is None
        else "share of picture, scale card and seam count most"
    )
    return at_most(
        "glare",
        value,
        MOST_GLARE,
        unit,
        sentence("No glare hides the part."),
        sentence(
            "Tilt the camera or shade the lamp so that the bright spot leaves the part, and take it again."
        ),
    )


def _middle_weight(rows: int, columns: int) -> np.ndarray:
    """1 in the middle of the picture, falling to 0.2 at its border."""
    y = 1 - np.abs(np.linspace(-1, 1, rows))[:, None] ** 2
    x = 1 - np.abs(np.linspace(-1, 1, columns))[None, :] ** 2
    return _ELSEWHERE + (1 - _ELSEWHERE) * y * x


def _card_weight(rows: int, columns: int, corners: np.ndarray) -> np.ndarray:
    """1 on the card and beside its long sides, 0.2 elsewhere; corners in tiles."""
    layout = card_layout()
    flat = np.array([p for marker in layout.markers.at for p in layout.corners(marker)])
    homography, _ = cv2.findHomography(flat, corners.reshape(16, 2))
    weight = np.full((rows, columns), _ELSEWHERE, np.float32)
    if homography is not None:
        x, y = layout.outline.width / 2, layout.outline.height / 2 + _BESIDE_CARD_MM
        around = cv2.perspectiveTransform(np.array([[[-x, -y], [x, -y], [x, y], [-x, y]]]), homography)[0]
        cv2.fillConvexPoly(weight, np.rint(np.clip(around, -1e4, 1e4)).astype(np.int32), 1.0)
    return weight


def _share(mask: np.ndarray) -> float:
    return float(np.count_nonzero(mask) / mask.size)
