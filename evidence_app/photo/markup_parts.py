"""What the drawings of the measurements have in common: type, colours, scale bars.

Colours are those of the cividis map, which people with any colour vision see alike in
order; every colour is also written as a number.
"""

import io

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from evidence_app.photo.card.pose import Pose

INK, SOFT, PAPER, MARK = (24, 28, 34), (110, 116, 124), (255, 255, 255), (255, 214, 64)
SECOND, SHADE = (120, 200, 255), (0, 0, 0)
WIDTH, LEFT, RIGHT = 1400, 110, 1360
_RAMP = 400
SMALL = 20  # legible where a sheet of WIDTH pixels is printed 180 mm wide: 7 points


def font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    return ImageFont.load_default(size=size)


def write(
    draw: ImageDraw.ImageDraw,
    place: tuple[float, float],
    words: str,
    ink: tuple[int, int, int] = INK,
    size: int = SMALL,
    anchor: str | None = None,
) -> None:
    """Words at a place of the sheet; ``anchor`` is Pillow's."""
    draw.text(place, words, fill=ink, font=font(size), anchor=anchor)


def png(sheet: Image.Image) -> bytes:
    out = io.BytesIO()
    sheet.save(out, "PNG", optimize=False, compress_level=6)
    return out.getvalue()


def rectified(luma: np.ndarray, pose: Pose, x: np.ndarray, y: np.ndarray) -> Image.Image:
    """The photo in grey at places (H, W) in mm of the plane of the card's face."""
    u, v = pose.to_pixels(x, y)
    seen = cv2.remap(
        luma,
        u.astype(np.float32),
        v.astype(np.float32),
        cv2.INTER_AREA,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=0,
    )
    bright = np.clip(
        seen.astype(np.float32) * (235 / max(60.0, float(np.percentile(seen, 98)))), 0, 255
    ).astype(np.uint8)
    return Image.fromarray(bright).convert("RGB")


def colour(width: float, low: float, high: float) -> tuple[int, int, int]:
    level = int(np.clip(255 * (width - low) / (high - low), 0, 255))
    b, g, r = _map()[level]
    return int(r), int(g), int(b)


def _map() -> np.ndarray:
    return cv2.applyColorMap(np.arange(256, dtype=np.uint8)[:, None], cv2.COLORMAP_CIVIDIS)[:, 0]


def ramp(sheet: Image.Image, draw: ImageDraw.ImageDraw, top: int, low: float, high: float) -> None:
    """The colour scale, right-aligned."""
    picture = np.repeat(_map()[np.linspace(0, 255, _RAMP).astype(int)][None, :, ::-1], 14, axis=0)
    sheet.paste(Image.fromarray(np.ascontiguousarray(picture)), (RIGHT - _RAMP, top))
    for share in (0.0, 0.5, 1.0):
        said = f"{low + share * (high - low):.2f} mm"
        at = RIGHT - _RAMP * (1 - share), top + 16
        write(draw, at, said, anchor=("la", "ma", "ra")[int(2 * share)])


def outlined(draw: ImageDraw.ImageDraw, points: list, ink: tuple[int, int, int], width: int = 2) -> None:
    """A line with a dark edge: it shows on any ground, also where that has its own colour."""
    for colour, wide in ((SHADE, width + 4), (ink, width)):
        draw.line(points, fill=colour, width=wide, joint="curve")


def bar(draw: ImageDraw.ImageDraw, x: float, y: float, length: float, words: str) -> None:
    draw.rectangle((x - 6, y - 30, x + length + 6, y + 8), fill=SHADE)
    draw.rectangle((x, y - 3, x + length, y + 2), fill=(255, 255, 255))
    write(draw, (x + length / 2, y - 28), words, PAPER, anchor="ma")
