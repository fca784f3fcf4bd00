"""The drawing of a residue comparison: numbered marks over the photo with a scale bar, the
largest mark enlarged beside the same place in the reference.

Marks are outlined in yellow on black, told apart by their numbers and never by colour.
"""

import cv2
import numpy as np
from PIL import Image, ImageDraw

from evidence_app.photo.markup_parts import INK, PAPER, WIDTH, font, png, write
from evidence_app.photo.residue.find import Residue

_MARGIN, _TOP = 40, 80
_DETAIL_PX, _DETAIL_MM, _BAR_MM = 420, 6.0, 10.0
_LINE, _SHADE = (253, 231, 55), (0, 0, 0)


def draw_residue(found: Residue) -> bytes:
    """PNG bytes of the drawing, the same for the same comparison."""
    change = found.change
    left, top, right, bottom = _bounds(change.judged)
    scale = (WIDTH - 2 * _MARGIN) / max(1, right - left)
    scale = min(scale, 700 / max(1, bottom - top))
    shown = _picture(change.shown[top:bottom, left:right], scale)
    low = _TOP + shown.height + 60
    sheet = Image.new("RGB", (WIDTH, low + (_DETAIL_PX + 60 if found.marks else 0)), PAPER)
    draw = ImageDraw.Draw(sheet)
    count = len(found.marks)
    said = (
        f"{count} marks against the reference, {found.area_mm2:.2f} mm2 in all"
        if count
        else "No mark found; inspect by eye"
    )
    write(draw, (_MARGIN, 20), said, size=28)
    sheet.paste(shown, (_MARGIN, _TOP))
    frame = change.frame
    for number, mark in enumerate(found.marks, 1):
        place = (mark.outline - (frame.x0, frame.y0)) / frame.step - (left, top)
        _outline(draw, place * scale + (_MARGIN, _TOP), str(number))
    bar = _BAR_MM / frame.step * scale
    draw.rectangle((_MARGIN, low - 44, _MARGIN + bar, low - 36), fill=INK)
    write(draw, (_MARGIN + bar + 12, low - 54), f"{_BAR_MM:g} mm", size=22)
    if found.marks:
        _draw_detail(sheet, draw, found, low)
    return png(sheet)


def _bounds(covered: np.ndarray) -> tuple[int, int, int, int]:
    rows, columns = np.nonzero(covered)
    return (int(columns.min()), int(rows.min()), int(columns.max()) + 1, int(rows.max()) + 1)


def _picture(light: np.ndarray, scale: float) -> Image.Image:
    """Light as a picture, brightened so that dark linings show (square root for display)."""
    top = max(float(np.percentile(light, 99.5)), 1e-3)
    shown: np.ndarray = (255 * np.sqrt(np.clip(light / top, 0, 1))).astype(np.uint8)
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    shown = cv2.resize(shown, None, fx=scale, fy=scale, interpolation=way)
    return Image.fromarray(np.ascontiguousarray(shown[..., ::-1]))


def _outline(draw: ImageDraw.ImageDraw, points: np.ndarray, number: str) -> None:
    middle = points.mean(axis=0)
    reach = max(10.0, float(np.hypot(*(points - middle).T).max()) + 6)
    for grow, colour in ((0, _SHADE), (2, _LINE), (4, _SHADE)):
        box = (*(middle - reach - grow), *(middle + reach + grow))
        draw.ellipse(box, outline=colour, width=2)
    draw.text(
        (middle[0] + reach + 8, middle[1] - 14),
        number,
        fill=_LINE,
        stroke_fill=_SHADE,
        stroke_width=3,
        font=font(26),
    )


def _draw_detail(sheet: Image.Image, draw: ImageDraw.ImageDraw, found: Residue, top: int) -> None:
    mark, change = found.marks[0], found.change
    frame = change.frame
    half = round(max(_DETAIL_MM, 2 * mark.diameter_mm) / 2 / frame.step)
    column, row = (round((v - o) / frame.step) for v, o in ((mark.x, frame.x0), (mark.y, frame.y0)))
    rows = slice(max(0, row - half), row + half)
    columns = slice(max(0, column - half), column + half)
    both = np.hstack([change.shown[rows, columns], change.clean[rows, columns]])
    picture = _picture(both, _DETAIL_PX / (2 * half))
    sheet.paste(picture, (_MARGIN, top + 34))
    for name, share in (("Mark 1, now", 0), ("The same place in the reference", 0.5)):
        write(draw, (_MARGIN + share * picture.width, top), name, size=22)
