"""A photo's places told in the reference's coordinates where its card lay elsewhere.

Both photos have the scale card, so only a shift and a turn are unknown. The textures of the
two are laid over each other at every turn, and the shift comes from their correlation; the
blocks of residue_register then need to look for what height alone adds.
"""

import cv2
import numpy as np
from msgspec.structs import replace

from evidence_app.photo.residue.register import CommonFrame, structure
from evidence_app.photo.residue.view import Sight

_STEP_MM = 0.2
_MOST_MM, _MOST_DEG = 6.0, 5
_HALVES = 2  # turns in one degree
# Of the correlation where the card did not move: less gain is chance, as on a plain surface.
_LEAST_GAIN = 1.25
_LEAST_SCORE = 0.15


def in_reference(reference: Sight, photo: Sight, frame: CommonFrame) -> Sight:
    """The photo as if its card had lain where the reference's lies, or as it is when it fits
    so or nothing fits better."""
    frame = frame.coarser(_STEP_MM)
    x, y = frame.points()
    one = structure(reference.seen_at(x, y), _STEP_MM)
    one[reference.on_card(x, y) | reference.white_at(x, y)] = 0
    reach = round(_MOST_MM / _STEP_MM)
    wide = CommonFrame(
        frame.x0 - reach * _STEP_MM,
        frame.y0 - reach * _STEP_MM,
        _STEP_MM,
        frame.columns + 2 * reach,
        frame.rows + 2 * reach,
    )
    here, best, found = 0.0, 0.0, np.eye(3)
    for half in range(-_HALVES * _MOST_DEG, _HALVES * _MOST_DEG + 1):
        turn = _turned(np.radians(half / _HALVES), frame)
        places = np.tensordot(turn[:2, :2], np.stack(wide.points()), 1) + turn[:2, 2, None, None]
        other = structure(photo.seen_at(*places), _STEP_MM)
        other[photo.on_card(*places) | photo.white_at(*places)] = 0
        match = cv2.matchTemplate(other, one, cv2.TM_CCORR_NORMED)
        _, score, _, (column, row) = cv2.minMaxLoc(match)
        if half == 0:
            near = round(1.0 / _STEP_MM)
            here = float(match[reach - near : reach + near + 1, reach - near : reach + near + 1].max())
        if score > best:
            shift = np.eye(3)
            shift[:2, 2] = (np.array([column, row]) - reach) * _STEP_MM
            best, found = score, turn @ shift
    if best < max(_LEAST_SCORE, _LEAST_GAIN * here):
        return photo
    homography = photo.pose.homography @ found
    pose = replace(photo.pose, homography=homography / homography[2, 2])
    return replace(photo, pose=pose, to_card=found)


def _turned(angle: float, frame: CommonFrame) -> np.ndarray:
    """A turn (3, 3) about the frame's middle."""
    middle = np.array([frame.x0, frame.y0]) + frame.step * np.array([frame.columns, frame.rows]) / 2
    turn = np.eye(3)
    turn[:2, :2] = [[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]
    turn[:2, 2] = middle - turn[:2, :2] @ middle
    return turn
