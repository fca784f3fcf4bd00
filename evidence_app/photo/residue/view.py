"""A photo of a surface with the scale card on it, as light over the card's plane.

Places are in mm on the plane of the card's face, from the card's middle, x to the right and
y down. What lies below that plane is seen shifted (parallax); see residue_register.
"""

import cv2
import numpy as np
from msgspec import Struct, field

from evidence_app.photo import intake
from evidence_app.photo.card.bar import read_bar
from evidence_app.photo.card.find import find_markers
from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.card.light import CardLight, read_light
from evidence_app.photo.card.pose import Pose, fit_pose
from evidence_app.photo.refusal import CannotMeasure

LEAST_MEGAPIXELS = 1.0
MOST_TILT_DEG = 20.0
MOST_MM_PER_PIXEL = 0.12
MOST_SOFT_MM = 0.16  # standard deviation of the blur
_HALVED_FROM = 3400  # pixels on the long side: half of them are fine enough for residue
AROUND_CARD_MM = 0.8  # the card's own shadow


class Sight(Struct, frozen=True, eq=False):
    """``light`` is (H, W, 3) float32 BGR, linear, 1 for white paper under the card's light;
    ``to_card`` (3, 3) takes places to those on this photo's own card, where that lay elsewhere
    than in the photo whose places these are; ``bar`` is what its check bar measures (mm, or NaN)."""

    pose: Pose
    card_light: CardLight
    light: np.ndarray
    white: np.ndarray  # (H, W) uint8, 255 where a channel is clipped
    mm_per_pixel: float
    bar: float
    to_card: np.ndarray = field(default_factory=lambda: np.eye(3))

    @property
    def soft_mm(self) -> float:
        return self.card_light.edge.blur * self.mm_per_pixel

    def seen_at(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Light (..., 3) at places on the card's plane; 0 outside of the picture."""
        u, v = self._pixels(x, y)
        return cv2.remap(self.light, u, v, cv2.INTER_CUBIC, borderMode=cv2.BORDER_CONSTANT)

    def white_at(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Where (bool) no light can be told: clipped, or outside of the picture."""
        u, v = self._pixels(x, y)
        return (
            cv2.remap(self.white, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=255)
            > 0
        )

    def _pixels(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        u, v = self.pose.to_pixels(x, y)
        return u.astype(np.float32), v.astype(np.float32)

    def on_card(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Where (bool) places lie on the card or close to it."""
        outline = card_layout().outline
        (a, b, dx), (c, d, dy) = self.to_card[:2]
        x, y = a * x + b * y + dx, c * x + d * y + dy
        return (np.abs(x) < outline.width / 2 + AROUND_CARD_MM) & (
            np.abs(y) < outline.height / 2 + AROUND_CARD_MM
        )

    def corners_mm(self) -> np.ndarray:
        """The picture's corners (4, 2) on the card's plane (without the lens's bend)."""
        wide, high = self.pose.size
        pixels = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], float)
        flat = (pixels - np.array([(wide - 1) / 2, (high - 1) / 2])) / wide
        return cv2.perspectiveTransform(flat[None], np.linalg.inv(self.pose.homography))[0]


def see(data: bytes, which: str) -> Sight:
    """What a photo's bytes show; ``which`` names it in a refusal.

    Raises PhotoError when it is no photo, CannotMeasure when it cannot be compared.
    """
    try:
        return _see(data)
    except CannotMeasure as refusal:
        refusal.where = which
        raise


def _see(data: bytes) -> Sight:
    header = intake.read_header(data)
    if header.width * header.height < LEAST_MEGAPIXELS * 1e6:
        raise CannotMeasure("residue", "small", value=header.width * header.height / 1e6)
    scale = 2 if max(header.width, header.height) >= _HALVED_FROM else 1
    colour = intake.decode(data, scale)
    luma = cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY)
    pose = fit_pose(luma, find_markers(luma))
    light = read_light(luma, pose)
    per_mm = min(pose.pixels_per_mm(0.0, 0.0))
    sight = Sight(pose, light, _linear(colour, light), _clipped(colour), 1 / per_mm, read_bar(luma, pose))
    _require_fine(sight)
    return sight


def _linear(colour: np.ndarray, light: CardLight) -> np.ndarray:
    level = float(light.level_at(np.array(0.0), np.array(0.0)))
    table = (light.tone.linear(np.arange(256) / 255) / level).astype(np.float32)
    return cv2.LUT(colour, table)


def _clipped(colour: np.ndarray) -> np.ndarray:
    brightest = cv2.max(cv2.max(colour[..., 0], colour[..., 1]), colour[..., 2])
    white = cv2.compare(brightest, 252, cv2.CMP_GE)  # type: ignore[call-overload]  # its stubs know no number here
    return cv2.dilate(white, np.ones((3, 3), np.uint8))


def _require_fine(sight: Sight) -> None:
    if sight.pose.tilt_deg > MOST_TILT_DEG:
        raise CannotMeasure("residue", "tilted", tilt_deg=sight.pose.tilt_deg)
    if sight.mm_per_pixel > MOST_MM_PER_PIXEL:
        raise CannotMeasure("residue", "far")
    if sight.soft_mm > MOST_SOFT_MM:
        raise CannotMeasure("residue", "blurred")
