"""Bar codes and QR codes in a picture of the camera (zxing-cpp). Runs on the worker."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    import numpy as np


class CodeRead(Struct, frozen=True):
    """``text`` is what the code says; empty when its own check shows that it was misread."""

    text: str
    whole: bool


def codes_in(frame: np.ndarray) -> tuple[CodeRead, ...]:
    """Every code in an (H, W, 3) uint8 BGR picture, in the order in which they were found.

    A code that is there but cannot be read whole is told as such, so that the screen can
    ask for a better view instead of saying nothing.
    """
    import zxingcpp

    found = zxingcpp.read_barcodes(frame, return_errors=True)
    return tuple(CodeRead(code.text if code.valid else "", code.valid) for code in found)
