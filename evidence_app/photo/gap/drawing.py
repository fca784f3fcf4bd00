"""The drawing of a seam measurement: the seam coloured by its width, the widest place
enlarged, and width against position with the limits and their guard bands.

The photo is shown in grey, rectified.
"""

import numpy as np
from PIL import Image, ImageDraw

from evidence_app.photo import markup_parts as parts
from evidence_app.photo.gap.measure import Gap
from evidence_app.photo.gap.seam import HALF_LENGTH_MM
from evidence_app.photo.uncertainty import GUARD_FACTOR

_SEAM_TOP, _SEAM_HEIGHT, _SEAM_MM = 70, 190, 3.2  # mm to either side
_DETAIL_TOP, _DETAIL_HEIGHT, _DETAIL_MM = 330, 230, 4.0
_PLOT_TOP, _PLOT_HEIGHT = 640, 300
_HEIGHT = 1010


def draw_gap(
    luma: np.ndarray, gap: Gap, at_least: float | None = None, at_most: float | None = None
) -> bytes:
    """PNG bytes of the drawing, the same for the same measurement."""
    sheet = Image.new("RGB", (parts.WIDTH, _HEIGHT), parts.PAPER)
    draw = ImageDraw.Draw(sheet)
    said = (
        f"Seam width: median {gap.median_mm:.3f} mm, U = "
        f"{gap.budget.expanded():.3f} mm (k = 2); widest 2 mm: {gap.largest.width_mm:.3f} mm"
    )
    parts.write(draw, (parts.LEFT, 16), said, size=26)
    low, high = _range(gap, at_least, at_most)
    _draw_seam(sheet, draw, luma, gap, low, high)
    parts.ramp(sheet, draw, _SEAM_TOP + _SEAM_HEIGHT + 12, low, high)
    _draw_detail(sheet, draw, luma, gap)
    _draw_plot(draw, gap, low, high, at_least, at_most)
    return parts.png(sheet)


def _range(gap: Gap, at_least: float | None, at_most: float | None) -> tuple[float, float]:
    """Widths that the scale and the plot span."""
    widths = gap.stations[gap.good, 1]
    guard = GUARD_FACTOR * gap.largest.u_mm
    high = max(float(widths.max()), (at_most or 0) + guard) * 1.12
    return 0.0, max(high, 0.05)


def _rectified(
    luma: np.ndarray, gap: Gap, x0: float, x1: float, half: float, size: tuple[int, int]
) -> Image.Image:
    """The surface about the seam, x0 to x1 mm along and ``half`` mm to either side."""
    x = np.linspace(x0, x1, size[0])[None, :]
    across = np.linspace(-half, half, size[1])[:, None] * gap.line.side
    return parts.rectified(luma, gap.pose, *gap.line.point(x, across))


def _along(x: float, x0: float = -HALF_LENGTH_MM, x1: float = HALF_LENGTH_MM) -> float:
    return parts.LEFT + (parts.RIGHT - parts.LEFT) * (x - x0) / (x1 - x0)


def _draw_seam(
    sheet: Image.Image, draw: ImageDraw.ImageDraw, luma: np.ndarray, gap: Gap, low: float, high: float
) -> None:
    picture = _rectified(
        luma, gap, -HALF_LENGTH_MM, HALF_LENGTH_MM, _SEAM_MM, (parts.RIGHT - parts.LEFT, _SEAM_HEIGHT)
    )
    sheet.paste(picture, (parts.LEFT, _SEAM_TOP))
    parts.write(
        draw, (parts.LEFT, _SEAM_TOP - 26), "Seam, across enlarged; colour is the width", parts.SOFT
    )
    per_mm = _SEAM_HEIGHT / 2 / _SEAM_MM
    middle = _SEAM_TOP + _SEAM_HEIGHT / 2
    step = (parts.RIGHT - parts.LEFT) * 0.5 / (2 * HALF_LENGTH_MM)
    for (at, width), good in zip(gap.stations, gap.good, strict=True):
        left = _along(at) - step / 2
        top, bottom = middle + per_mm * 1.1, middle + per_mm * 1.7
        fill = parts.colour(width, low, high) if good else (190, 190, 190)
        draw.rectangle((left, top, left + step, bottom), fill=fill)
    worst = _along(gap.largest.at_mm)
    reach = (parts.RIGHT - parts.LEFT) / (2 * HALF_LENGTH_MM)
    left, right, top, bottom = worst - reach, worst + reach, middle - per_mm, middle + per_mm
    corners = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)]
    parts.outlined(draw, corners, parts.MARK, 3)
    parts.bar(draw, parts.LEFT + 14, _SEAM_TOP + _SEAM_HEIGHT - 14, 10 * reach, "10 mm")


def _draw_detail(sheet: Image.Image, draw: ImageDraw.ImageDraw, luma: np.ndarray, gap: Gap) -> None:
    """The widest place, with the two edges that were fitted, at one scale both ways."""
    at, half = gap.largest.at_mm, _DETAIL_MM
    width = parts.RIGHT - parts.LEFT
    half_across = half * _DETAIL_HEIGHT / width
    picture = _rectified(luma, gap, at - half, at + half, half_across, (width, _DETAIL_HEIGHT))
    sheet.paste(picture, (parts.LEFT, _DETAIL_TOP))
    parts.write(
        draw, (parts.LEFT, _DETAIL_TOP - 26), "Widest place, enlarged, with the fitted edges", parts.SOFT
    )
    per_mm = width / 2 / half
    shown = (np.abs(gap.stations[:, 0] - at) < half - 0.1) & gap.good
    places = parts.LEFT + per_mm * (gap.stations[shown, 0] - at + half)
    middle = _DETAIL_TOP + _DETAIL_HEIGHT / 2
    for sign in (-1, 1):
        edge = gap.middles[shown] + sign * gap.stations[shown, 1] / 2
        points = list(zip(places.tolist(), (middle + gap.line.side * per_mm * edge).tolist(), strict=True))
        parts.outlined(draw, points, parts.MARK)
    parts.bar(draw, parts.LEFT + 14, _DETAIL_TOP + _DETAIL_HEIGHT - 14, per_mm, "1 mm")


def _draw_plot(
    draw: ImageDraw.ImageDraw,
    gap: Gap,
    low: float,
    high: float,
    at_least: float | None,
    at_most: float | None,
) -> None:
    bottom = _PLOT_TOP + _PLOT_HEIGHT

    def y_of(width: float) -> float:
        return bottom - _PLOT_HEIGHT * (width - low) / (high - low)

    parts.write(draw, (parts.LEFT, _PLOT_TOP - 46), "Width along the seam", parts.SOFT)
    for limit, inward, extreme in ((at_most, -1, gap.largest), (at_least, 1, gap.smallest)):
        if limit is not None:
            guard = GUARD_FACTOR * extreme.u_mm
            ends = sorted((y_of(limit - guard), y_of(limit + guard)))
            draw.rectangle(
                (parts.LEFT, max(ends[0], _PLOT_TOP), parts.RIGHT, min(ends[1], bottom)),
                fill=(228, 231, 235),
            )
            draw.line((parts.LEFT, y_of(limit), parts.RIGHT, y_of(limit)), fill=parts.INK, width=3)
            words = "at most" if inward < 0 else "at least"
            said = f"limit {words} {limit:g} mm; grey: guard band of {guard:.3f} mm"
            parts.write(
                draw, (parts.RIGHT, _PLOT_TOP - 24 if inward < 0 else bottom + 52), said, anchor="ra"
            )
    tick = next(t for t in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5) if (high - low) / t <= 8 or t == 0.5)
    for number in range(int((high - low) / tick) + 1):
        y = y_of(low + number * tick)
        draw.line((parts.LEFT - 6, y, parts.LEFT, y), fill=parts.INK)
        parts.write(draw, (parts.LEFT - 10, y), f"{low + number * tick:.2f}", anchor="rm")
    for mm in range(-40, 41, 10):
        draw.line((_along(mm), bottom, _along(mm), bottom + 6), fill=parts.INK)
        parts.write(draw, (_along(mm), bottom + 10), f"{mm}", anchor="ma")
    parts.write(
        draw,
        ((parts.LEFT + parts.RIGHT) / 2, bottom + 30),
        "mm along the card, from its middle",
        anchor="ma",
    )
    parts.write(draw, (16, _PLOT_TOP - 24), "mm")
    half_u = gap.budget.expanded()
    for (at, width), good in zip(gap.stations, gap.good, strict=True):
        x, y = _along(at), float(np.clip(y_of(width), _PLOT_TOP, bottom))
        if good:
            draw.line(
                (x, max(y_of(width + half_u), _PLOT_TOP), x, min(y_of(width - half_u), bottom)),
                fill=(176, 196, 216),
            )
            draw.ellipse((x - 3, y - 3, x + 3, y + 3), fill=(0, 72, 128))
        else:
            draw.line((x - 4, y - 4, x + 4, y + 4), fill=parts.SOFT)
            draw.line((x - 4, y + 4, x + 4, y - 4), fill=parts.SOFT)
    draw.rectangle((parts.LEFT, _PLOT_TOP, parts.RIGHT, bottom), outline=parts.INK)
