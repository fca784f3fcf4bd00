"""How large the pixels of the screen are, as the screen itself says."""

from pathlib import Path

_LEAST, _MOST = 2.0, 25.0
"""Pixels per mm of any screen that is worked on at arm's length; another answer is none."""


def pixels_per_mm(screens: Path = Path("/sys/class/drm")) -> float | None:
    """Of the one screen that is connected, None where there are several or it does not say.

    From the first detailed timing of its EDID (VESA Enhanced EDID Standard, release A, section
    3.10.2: pixels across in byte 2 and the high half of byte 4, mm across in 12 and 14).
    """
    said = [read for path in screens.glob("card*-*/edid") if (read := _bytes(path))]
    if len(said) != 1 or len(said[0]) < 128:
        return None
    timing = said[0][54:72]
    pixels, mm = timing[2] | (timing[4] & 0xF0) << 4, timing[12] | (timing[14] & 0xF0) << 4
    return pixels / mm if mm and _LEAST <= pixels / mm <= _MOST else None


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError:
        return b""
