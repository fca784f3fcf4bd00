"""What the live picture shows already: the gate's checks and the scale card. On the worker.

The one place where the tablet asks the photo room about a picture that is not a photo yet.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    import numpy as np


class Glance(Struct, frozen=True):
    """``holds`` by the gate's names of its checks (``focus`` stands for shake too);
    ``markers`` of the scale card seen, 0 to 4; ``tilt_deg`` between the camera's axis and the
    card's normal, None without a whole card."""

    holds: dict[str, bool]
    markers: int
    tilt_deg: float | None


def glance(frame: np.ndarray) -> Glance:
    """``frame`` is (H, W, 3) uint8 BGR."""
    from evidence_app.photo.gate.live import look

    seen = look(frame)
    holds = {
        "focus": seen.sharpness.holds,
        "shadows": seen.shadows.holds,
        "highlights": seen.highlights.holds,
        "glare": seen.glare.holds,
    }
    return Glance(holds, seen.markers, seen.tilt_deg)
