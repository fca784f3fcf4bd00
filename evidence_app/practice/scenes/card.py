"""The scale card as it lies in a scene, printed from the layout file."""

from functools import cache

import cv2
import numpy as np
from msgspec import Struct
from PIL import Image, ImageDraw, ImageFont

from evidence_app.photo.card.layout import CardLayout, card_layout
from evidence_app.practice.scenes.canvas import Area, Box, Strip, around
from evidence_app.practice.scenes.material import PAPER, lay, rectangle

_TEXT_TEXELS = 24  # to a mm


class CardTruth(Struct, frozen=True):
    """The card in a scene. Its true marker distances are the layout's times
    ``print_scale``; ``thickness_mm`` lifts its face above the surface below."""

    serial: str = "NQ-0007"
    thickness_mm: float = 0.5
    print_scale: float = 1.0
    dictionary: str | None = None  # None: the layout's own
    mirrored: bool = False


def paint_card(strip: Strip, card: CardTruth) -> None:
    """The card with its shadow, its face at depth 0 and its middle at (0, 0)."""
    layout = card_layout()
    box = around(0.0, 0.0, layout.outline.width / 2, layout.outline.height / 2)

    def outline(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return rectangle(x, y, box, layout.outline.corner_radius)

    below = strip.area(card.thickness_mm, box, margin=4.0)
    if below is None:
        return
    below.cast(outline, card.thickness_mm)
    side = outline(below.x, below.y)
    below.paint(below.cover(side), (0.42, 0.43, 0.43), 0.1)
    lay(strip, box, 0.0, outline, PAPER, margin=0.1)
    _print(strip, layout, card)


def _print(strip: Strip, layout: CardLayout, card: CardTruth) -> None:
    scale = card.print_scale
    flip = -1.0 if card.mirrored else 1.0

    def area_of(box: Box) -> Area | None:
        """An area whose coordinates are those of the layout."""
        x0, x1 = sorted((box[0] * flip, box[2] * flip))
        seen = strip.area(0.0, (x0 * scale, box[1] * scale, x1 * scale, box[3] * scale))
        if seen is not None:
            seen.x = seen.x * np.float32(flip / scale)
            seen.y = seen.y / np.float32(scale)
            seen.pixel /= scale
        return seen

    black = (layout.print.black,) * 3
    half = layout.markers.side / 2
    dictionary = card.dictionary or layout.markers.dictionary
    for marker in layout.markers.at:
        area = area_of(around(marker.x, marker.y, half))
        if area is not None:
            bits = _bits(dictionary, marker.id)
            module = layout.markers.side / (len(bits) - 2)
            ink = _cells(
                bits,
                (area.x - np.float32(marker.x - half)) / np.float32(module),
                (area.y - np.float32(marker.y - half)) / np.float32(module),
                area.pixel / module,
            )
            area.paint(ink, black, 0.1)
    patches = [(around(p.x, p.y, p.width / 2, p.height / 2), p.reflectance) for p in layout.patches]
    for box, grey in [*patches, *((line, layout.print.black) for line in _bar_lines(layout))]:
        area = area_of(box)
        if area is not None:
            area.paint(area.cover(rectangle(area.x, area.y, box)), (grey,) * 3, 0.1)
    _print_text(area_of, layout, card, black)


def _bar_lines(layout: CardLayout) -> list[Box]:
    """The bar that is held against a rule: its long line and its ticks."""
    bar = layout.check_bar
    x0, x1 = bar.x - bar.length / 2, bar.x + bar.length / 2
    inner = np.arange(x0 + bar.minor, x1 - 0.1, bar.minor)
    ends = (x0, x1 - bar.thickness)  # the outer edges are the length apart
    return [
        around(bar.x, bar.y, bar.length / 2, bar.thickness / 2),
        *(around(middle, bar.y, bar.thickness / 2, bar.tick / 4) for middle in inner),
        *((left, bar.y - bar.tick / 2, left + bar.thickness, bar.y + bar.tick / 2) for left in ends),
    ]


def _print_text(area_of, layout: CardLayout, card: CardTruth, black) -> None:
    title, serial = layout.text.title, layout.text.serial
    for line, words in ((title, layout.name), (serial, f"{card.serial}  50 mm")):
        ink = text_ink(words, line.height)
        width = ink.shape[1] / _TEXT_TEXELS
        box = (line.x, line.y - line.height, line.x + width, line.y + 0.6 * line.height)
        area = area_of(box)
        if area is not None:
            area.paint(lay_text(ink, area, box[0], box[1]), black, 0.1)


@cache
def text_ink(words: str, height: float) -> np.ndarray:
    """Ink (rows, columns) float32 of a line of letters ``height`` mm tall, 24 texels to
    a mm; the base line is ``height`` mm below the top."""
    font = ImageFont.load_default(size=height * _TEXT_TEXELS * 1.35)
    left, _, right, _ = font.getbbox(words, anchor="ls")
    picture = Image.new("L", (int(right - left) + 2, int(1.6 * height * _TEXT_TEXELS)))
    ImageDraw.Draw(picture).text((-left, height * _TEXT_TEXELS), words, fill=255, font=font, anchor="ls")
    return np.asarray(picture, np.float32) / 255


def lay_text(ink: np.ndarray, area: Area, x: float, y: float) -> np.ndarray:
    """Ink share of each pixel of an area for text whose top left is at (x, y)."""
    spread = max(0.3, 0.3 * area.pixel * _TEXT_TEXELS)
    soft = cv2.GaussianBlur(ink, (0, 0), spread)
    map_x = (area.x - np.float32(x)) * _TEXT_TEXELS - 0.5
    map_y = (area.y - np.float32(y)) * _TEXT_TEXELS - 0.5
    return cv2.remap(soft, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)


@cache
def _bits(dictionary: str, number: int) -> np.ndarray:
    """Ink (1 black, 0 paper) of a marker's modules with one module of paper around."""
    known = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    modules = known.markerSize + 2
    picture = cv2.aruco.generateImageMarker(known, number % len(known.bytesList), modules)
    return np.pad((picture == 0).astype(np.float32), 1)


def _cells(cells: np.ndarray, u: np.ndarray, v: np.ndarray, pixel: float) -> np.ndarray:
    """Area average over pixels of a picture of square cells.

    ``u`` and ``v`` count cells from the corner of the inner cells (one ring of
    padding lies outside), ``pixel`` is a pixel's side in cells. Bilinear reading at
    coordinates that move only within half a pixel of a border is a box average.
    """

    def squeeze(t: np.ndarray) -> np.ndarray:
        border = np.round(t)
        return border + np.clip((t - border) / np.float32(pixel), -0.5, 0.5) + 0.5

    return cv2.remap(cells, squeeze(u), squeeze(v), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def cells_share(bits: np.ndarray, area: Area, x: float, y: float, side: float) -> np.ndarray:
    """Ink share of each pixel for a square code of side ``side`` at (x, y)."""
    module = np.float32(side / len(bits))
    return _cells(
        np.pad(bits.astype(np.float32), 1),
        (area.x - np.float32(x)) / module,
        (area.y - np.float32(y)) / module,
        area.pixel / float(module),
    )
