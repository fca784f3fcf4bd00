"""A sheet to draw on, in units of its own: 1000 across, 700 down; lines in one dark colour, what
moves or matters in one accent colour, on a paper that is legible in the dark and the bright theme.
"""

import math
from functools import cache
from pathlib import Path

from PIL import Image, ImageColor, ImageDraw, ImageFont

WIDTH, HEIGHT = 1000, 700
PAPER, LINE, ACCENT = "#EEF1EC", "#1C2B27", "#C2410C"
WHITE, LIGHT, MIDDLE, GLASS, SOFT = "#FFFFFF", "#D6DDD8", "#A5B2AB", "#D5E6E8", "#F3C7A6"
DARK = "#5B6B66"
_FINE = 2


@cache
def _palette() -> Image.Image:
    """The colours, and between each two of them what an edge needs."""
    named = [
        ImageColor.getrgb(each) for each in (PAPER, LINE, ACCENT, WHITE, LIGHT, MIDDLE, GLASS, SOFT, DARK)
    ]
    mixed = [
        tuple(round(a + (b - a) * part) for a, b in zip(one, other, strict=True))
        for n, one in enumerate(named)
        for other in named[n + 1 :]
        for part in (0.33, 0.67)
    ]
    image = Image.new("P", (1, 1))
    image.putpalette([value for colour in (*named, *mixed) for value in colour])
    return image


class Sheet:
    def __init__(self):
        self._image = Image.new("RGB", (WIDTH * _FINE, HEIGHT * _FINE), PAPER)
        self._draw = ImageDraw.Draw(self._image)

    def save(self, path: Path) -> None:
        small = self._image.resize((WIDTH, HEIGHT), Image.Resampling.LANCZOS)
        flat = small.quantize(palette=_palette(), dither=Image.Dither.NONE)
        flat.save(path, optimize=True)

    def box(self, x, y, w, h, fill=WHITE, r=0, line=LINE, width=4):
        corners = [x * _FINE, y * _FINE, (x + w) * _FINE, (y + h) * _FINE]
        self._draw.rounded_rectangle(corners, r * _FINE, fill, line, width * _FINE if line else 0)

    def disc(self, x, y, r, fill=WHITE, line=LINE, width=4):
        self.box(x - r, y - r, 2 * r, 2 * r, fill, r, line, width)

    def shape(self, points, fill=WHITE, line=LINE, width=4):
        self._draw.polygon([(x * _FINE, y * _FINE) for x, y in points], fill)
        if line:
            self.path([*points, points[0]], line, width)

    def path(self, points, colour=LINE, width=4):
        at = [(x * _FINE, y * _FINE) for x, y in points]
        self._draw.line(at, colour, round(width * _FINE), "curve")
        for x, y in at:
            r = width * _FINE / 2 - 0.5
            self._draw.ellipse([x - r, y - r, x + r, y + r], colour)

    def dashes(self, x0, y0, x1, y1, colour=ACCENT, width=4, step=18):
        count = max(1, int(math.dist((x0, y0), (x1, y1)) / step))
        for n in range(count):
            a, b = n / count, (n + 0.55) / count
            ends = [(x0 + (x1 - x0) * t, y0 + (y1 - y0) * t) for t in (a, b)]
            self.path(ends, colour, width)

    def arrow(self, *points, colour=ACCENT, width=9):
        """Along ``points``, with its head at the last."""
        (x0, y0), (x, y) = points[-2:]
        turned, size = math.atan2(y - y0, x - x0), width * 2.9
        back = (x - math.cos(turned) * size * 0.9, y - math.sin(turned) * size * 0.9)
        self.path([*points[:-1], back], colour, width)
        sides = [(x - size * math.cos(turned + a), y - size * math.sin(turned + a)) for a in (0.5, -0.5)]
        self.shape([(x, y), *sides], colour, None)

    def arc(self, x, y, r, begin, end, colour=ACCENT, width=9):
        """An arrow round (x, y) from ``begin`` to ``end`` degrees; 0 is right, 90 down."""
        turns = [math.radians(begin + (end - begin) * n / 24) for n in range(25)]
        self.arrow(*((x + r * math.cos(t), y + r * math.sin(t)) for t in turns), colour=colour, width=width)

    def ring(self, x, y, r, width=8):
        self.disc(x, y, r, None, ACCENT, width)

    def never(self, x, y, r=44):
        """What is under it must not be done."""
        self.ring(x, y, r, 9)
        d = r * 0.68
        self.path([(x - d, y - d), (x + d, y + d)], ACCENT, 9)

    def text(self, x, y, words, size=40, colour=LINE):
        font = ImageFont.load_default(size * _FINE)
        self._draw.text((x * _FINE, y * _FINE), words, colour, font, "mm")

    def finger(self, x, y, towards=90, length=130, width=44):
        """A gloved finger whose tip is at (x, y); ``towards`` degrees it points, 90 down."""
        t = math.radians(towards)
        far = (x - length * math.cos(t), y - length * math.sin(t))
        near = (x - width / 2 * math.cos(t), y - width / 2 * math.sin(t))
        self.path([far, near], LINE, width)
        self.path([far, near], WHITE, width - 8)

    def hand(self, x, y, towards=90, size=1.0):
        """A gloved hand, its four fingertips about (x, y)."""
        t = math.radians(towards)
        across, along = (-math.sin(t), math.cos(t)), (math.cos(t), math.sin(t))
        for n, less in ((-1.5, 24), (-0.5, 4), (0.5, 0), (1.5, 16)):
            tip = [(x, y)[i] + across[i] * n * 36 * size - along[i] * less * size for i in (0, 1)]
            self.finger(*tip, towards, 130 * size, 38 * size)
        back = [(x - along[0] * d * size, y - along[1] * d * size) for d in (160, 230)]
        self.path(back, LINE, round(148 * size))
        self.path(back, WHITE, round(148 * size) - 8)

    # --- things ---------------------------------------------------------------------------

    def camera(self, x, y, to_y, spread=90):
        """Looking straight down from (x, y) to ``to_y``."""
        for side in (-1, 1):
            self.dashes(x + side * 22, y + 70, x + side * spread, to_y)
        self.shape([(x - 30, y + 30), (x + 30, y + 30), (x + 22, y + 66), (x - 22, y + 66)], MIDDLE)
        self.box(x - 70, y - 40, 140, 74, LIGHT, 12)
        self.disc(x + 46, y - 18, 8, ACCENT, None)

    def lamp(self, x, y, towards, reach=150):
        """At (x, y), its light going ``towards`` degrees."""
        t = math.radians(towards)
        for aside in (-0.16, 0, 0.16):
            a = t + aside
            begin, end = (x + 30 * math.cos(a), y + 30 * math.sin(a)), reach
            self.dashes(*begin, x + end * math.cos(a), y + end * math.sin(a))
        tail = (x - 80 * math.cos(t), y - 80 * math.sin(t))
        self.path([tail, (x, y)], LINE, 42)
        self.path([tail, (x, y)], LIGHT, 34)
        self.disc(x, y, 26, WHITE)

    def card(self, x, y, w=190, h=60, marks=12):
        """The scale card from above."""
        self.box(x, y, w, h, WHITE, 4)
        for n in range(marks):
            at = x + 14 + n * (w - 28) / (marks - 1)
            self.path([(at, y + 6), (at, y + (24 if n % 5 == 0 else 15))], LINE, 3)
        for corner in (x + 16, x + w - 32):
            self.box(corner, y + h - 24, 16, 16, LINE, 0, None)

    def screw(self, x, y, fill=WHITE, r=15):
        self.disc(x, y, r, fill, width=3)
        self.path([(x - r * 0.5, y - r * 0.5), (x + r * 0.5, y + r * 0.5)], LINE, 3)
        self.path([(x - r * 0.5, y + r * 0.5), (x + r * 0.5, y - r * 0.5)], LINE, 3)

    def bottle_drop(self, x, y, r=20):
        self.shape([(x, y - r * 1.7), (x + r, y), (x, y + r), (x - r, y)], SOFT, ACCENT, 3)
        self.disc(x, y + r * 0.15, r, SOFT, ACCENT, 3)
        self.shape([(x, y - r * 1.6), (x + r * 0.8, y), (x - r * 0.8, y)], SOFT, None)
