"""The scale card's check bar, read in the photo by the card's own markers.

Bar and markers are printed together, so a bar that has not its length beside them tells of a
print that is stretched unevenly, or of a card that is bent or worn.
"""

import numpy as np

from evidence_app.photo.card.layout import card_layout
from evidence_app.photo.card.pose import Pose, grey_at

_AROUND_MM, _STEP_MM = 0.8, 0.02
_LEAST_DARKER = 30.0  # grey levels
_COUNTS = 0.3  # of the tick's darkness, from which a place counts
# Relative standard uncertainty of a reading: off by 0.00013 at most on 80 practice scenes of the
# tuning seeds with flat cards that are printed evenly.
BAR_U = 0.0001


def read_bar(luma: np.ndarray, pose: Pose) -> float:
    """The bar's length in mm on ``luma`` (H, W) uint8; NaN where an end tick is not seen."""
    bar = card_layout().check_bar
    left, right = (_tick(luma, pose, bar.x + side * (bar.length - bar.thickness) / 2) for side in (-1, 1))
    return right - left + bar.thickness


def _tick(luma: np.ndarray, pose: Pose, x: float) -> float:
    """The middle (mm) of the tick near ``x``, NaN for none, on rows above and below the bar."""
    bar = card_layout().check_bar
    out = np.linspace(bar.tick / 4, 0.42 * bar.tick, 12)
    y = bar.y + np.concatenate([-out, out])
    along = np.arange(x - _AROUND_MM, x + _AROUND_MM, _STEP_MM)
    grey = grey_at(luma, *pose.to_pixels(along[None, :], y[:, None])).mean(axis=0)
    dark = np.median(np.sort(grey)[-len(grey) // 3 :]) - grey
    if dark.max() < _LEAST_DARKER:
        return float("nan")
    weight = np.maximum(dark - _COUNTS * dark.max(), 0.0)
    return float((weight * along).sum() / weight.sum())
