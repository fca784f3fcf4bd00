"""What the live picture says before the shot: card, tilt, sharpness, exposure, glare.

Cheap enough for every frame of a viewfinder, at the price of being rougher than the gate
and the measurements, which judge the photo itself: a preview of 1280 pixels cannot show
a blur of a few pixels of the photo, and the tilt is that of a lens of usual focal length,
good to about a third of its value. Advice before the shot, never a verdict on a photo.
"""

import cv2
import numpy as np
from msgspec import Struct

from evidence_app.photo.card.pose import Pose, rough_pose
from evidence_app.photo.card.seen import see_card
from evidence_app.photo.gate import exposure, sharpness
from evidence_app.photo.gate import judge as quality
from evidence_app.photo.gate.check import Check, at_most
from evidence_app.sentence import sentence

# 10 to 90 percent rise in pixels of the preview. On previews of practice scenes good ones
# reach 1.6; a blur of 12 pixels of a photo 4000 wide begins at 2.1 in its preview.
LONGEST_RISE = 2.0
MOST_TILT_DEG = 10.0  # from here on the height of a step across a seam spoils its width
MOST_LEAN_DEG = 4.0  # at a seam: a step of 0.15 mm then moves its width by 0.01 mm
BESIDE_MM = 22.5  # from the card's middle to a seam 3 to 8 mm beside its long side
_WIDEST_LOOKED_AT = 1280
_REBLURS = (0.5, 1.0, 1.5)


class Aim(Struct, frozen=True):
    """What the camera stands straight above: ``at`` is that place of the card's plane, from
    the frame's top left in parts of its width and height. ``lean_deg`` is how much it looks
    aslant at what is measured beside the card, on that long side which it is nearer to."""

    at: tuple[float, float]
    lean_deg: float

    @property
    def holds(self) -> bool:
        return self.lean_deg <= MOST_LEAN_DEG


class LiveLook(Struct, frozen=True):
    """One frame judged. ``card`` counts the scale card's markers that are seen (0 to 4; it
    holds with all four of one card); ``tilt`` (degrees between the camera's axis and the
    card's normal) and ``aim`` are None unless it does; ``sharpness`` is the rise of the edges in their
    softest direction in pixels of the preview, whether by focus or by shake; ``shadows`` and
    ``highlights`` the shares of the picture that are lost in the dark and in white; ``glare``
    the share that is white through and through, weighted as in the gate."""

    card: Check
    tilt: Check | None
    aim: Aim | None
    sharpness: Check
    shadows: Check
    highlights: Check
    glare: Check

    @property
    def markers(self) -> int:
        return int(self.card.value)

    @property
    def tilt_deg(self) -> float | None:
        return None if self.tilt is None else self.tilt.value


def look(frame: np.ndarray) -> LiveLook:
    """Judges a frame (H, W, 3) uint8 BGR of any size. Raises nothing on any picture."""
    luma = _small(cv2.cvtColor(frame, cv2.COLOR_BGR2GRAY))
    card = see_card(luma)
    pose = None
    if card.corners is not None:
        pose = rough_pose(card.corners, (luma.shape[1], luma.shape[0]))
    half = quality.halved(luma)
    lit = _without_bars(half)
    return LiveLook(
        card.check,
        None if pose is None else _tilt(pose.tilt_deg),
        None if pose is None else _aim(pose),
        _sharpness(luma, half),
        exposure.shadows(lit),
        exposure.highlights(lit),
        exposure.glare(half, None if card.corners is None else card.corners / 2),
    )


def _small(luma: np.ndarray) -> np.ndarray:
    scale = max(luma.shape) / _WIDEST_LOOKED_AT
    if scale <= 1:
        return luma
    size = max(1, round(luma.shape[1] / scale)), max(1, round(luma.shape[0] / scale))
    return cv2.resize(luma, size, interpolation=cv2.INTER_AREA)


def _tilt(degrees: float) -> Check:
    return at_most(
        "tilt",
        round(degrees, 1),
        MOST_TILT_DEG,
        "degrees",
        sentence("The camera looks straight at the card."),
        sentence("Hold the camera straight above the card."),
    )


def _aim(pose: Pose) -> Aim:
    u, v = pose.to_pixels(*pose.eye[:2])
    leans = [abs(pose.lean_deg(0.0, side * BESIDE_MM)[1]) for side in (1, -1)]
    return Aim((float(u) / pose.size[0], float(v) / pose.size[1]), min(leans))


def _sharpness(luma: np.ndarray, half: np.ndarray) -> Check:
    search = quality.halved(quality.halved(half))
    spread = sharpness.edge_spread(luma, sharpness.best_tiles(search), _REBLURS)
    if spread is None:
        said = sentence("No sharp edge is seen: focus on the part.")
        return quality.no_edges("sharpness", LONGEST_RISE, said)
    return at_most(
        "sharpness",
        spread.softest * sharpness.RISE_PER_SPREAD,
        LONGEST_RISE,
        quality.RISE_UNIT,
        sentence("The edges are sharp."),
        sentence("Hold still and focus on the part."),
    )


def _without_bars(picture: np.ndarray) -> np.ndarray:
    """Without the black bars that fill a frame up beside a picture of another shape."""
    lit = picture >= exposure.DARK
    rows, columns = np.flatnonzero(lit.any(axis=1)), np.flatnonzero(lit.any(axis=0))
    if not len(rows):
        return picture
    return picture[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
