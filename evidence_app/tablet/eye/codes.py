"""Bar codes and QR codes in a picture of the camera (zxing-cpp). Runs on the worker."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np


def codes_in(frame: np.ndarray) -> tuple[str | None, ...]:
    """What each code in an (H, W, 3) uint8 BGR picture says, in the order in which they were found.

    A code that is there but cannot be read whole, as its own check shows, is None, so that the
    screen can ask for a better view instead of saying nothing.
    """
    import zxingcpp

    found = zxingcpp.read_barcodes(frame, return_errors=True)
    return tuple(code.text if code.valid else None for code in found)
