"""What the live picture shows already: the gate's checks and the scale card. On the worker.

The one place where the tablet asks the photo room about a picture that is not a photo yet.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    import numpy as np


class Glance(Struct, frozen=True):
    """``holds`` by the gate's names of its checks; ``markers`` of the scale card seen, 0 to 4;
    ``tilt_deg`` between the camera's axis and the card's normal, None without a whole card."""

    holds: dict[str, bool]
    markers: int
    tilt_deg: float | None


def glance(frame: np.ndarray, card_wanted: bool) -> Glance | None:
    """``frame`` is (H, W, 3) uint8 BGR. None when it cannot be judged."""
    import cv2

    from evidence_app.photo.quality import judge

    made, data = cv2.imencode(".jpg", frame, [cv2.IMWRITE_JPEG_QUALITY, 90])
    if not made:
        return None
    holds = {check.name: check.holds for check in judge(data.tobytes()).checks}
    return Glance(holds, *(_card(frame) if card_wanted else (0, None)))


def _card(frame: np.ndarray) -> tuple[int, float | None]:
    import cv2
    import numpy as np

    from evidence_app.photo import card_find, card_pose
    from evidence_app.photo.card_layout import card_layout

    layout = card_layout()
    luma = cv2.cvtColor(frame, cv2.COLOR_BGR2GRAY)
    quads, ids = card_find._detect(luma, layout.markers.dictionary)
    seen = dict(zip(ids, quads, strict=True))
    known = [marker for marker in layout.markers.at if marker.id in seen]
    if len(known) < len(layout.markers.at):
        return len(known), None
    flat = np.array([point for marker in known for point in layout.corners(marker)])
    corners = np.concatenate([seen[marker.id] for marker in known])
    height, width = luma.shape
    homography, _ = cv2.findHomography(flat, (corners - [(width - 1) / 2, (height - 1) / 2]) / width)
    if homography is None:
        return len(known), None
    rotation, _ = card_pose._frame(homography, card_pose._USUAL_FOCAL)
    return len(known), float(np.degrees(np.arccos(np.clip(abs(rotation[2, 2]), 0, 1))))
