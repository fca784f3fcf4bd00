"""The Ossmere H7 seen whole and inside: front, back, battery tray, antenna board, plate.

These scenes are looked at, not measured.
"""

from collections.abc import Callable

import cv2
import numpy as np
from msgspec import Struct, structs

from evidence_app.practice.scenes import material as m
from evidence_app.practice.scenes.canvas import Box, Colour, Strip, around, grown
from evidence_app.practice.scenes.card import cells_share
from evidence_app.practice.scenes.parts import (
    paint_bench,
    paint_pocket,
    paint_screw,
    paint_slab,
    paint_words,
)

FRONT: Box = (-78.0, -48.0, 78.0, 48.0)
WINDOW: Box = (-64.0, -36.0, 64.0, 36.0)
_SCREEN: Box = (-58.0, -30.0, 58.0, 30.0)
_CARTON = m.Material((0.16, 0.27, 0.38), "cloud", 0.06, 0.05, 0.05)
BODY_MM = 14.0


class Seen(Struct, frozen=True):
    """A scene: how it is painted from (strip, what is present, serial number), the width
    of what is seen, where the camera is aimed, and the parts that can be absent."""

    paint: Callable[[Strip, dict[str, bool], str], None]
    field_mm: float
    parts: tuple[str, ...] = ()
    aim: tuple[float, float] = (0.0, 0.0)


# The spacers of an antenna board: place of each on it. Only a board that has a
# neighbour shares the middle one with it, on a post of its own.
SPACERS = {"first": (-27.0, -13.0), "second": (27.0, -13.0), "middle": (4.0, 15.0)}


def _paint_front(strip: Strip, present: dict[str, bool], serial: str) -> None:
    """The whole front; without the window the frame bed and the display lie open."""
    paint_bench(strip, BODY_MM)
    paint_slab(strip, FRONT, 0.0, BODY_MM, m.HOUSING, radius=9.0, rounded=2.5)
    paint_pocket(strip, grown(WINDOW, 0.22), 0.0, 1.2, m.HOUSING, m.RUBBER, radius=4.2)
    if present["window"]:
        _surface(strip, WINDOW, 0.0, m.GLASS_BORDER, radius=4.0)
        _surface(strip, _SCREEN, 0.0, m.DISPLAY, radius=1.0)
        if present["picture"]:
            _paint_test_picture(strip)
    else:
        display = structs.replace(m.DISPLAY.times(2.0), gloss=0.7)
        paint_pocket(strip, grown(WINDOW, -5.0), 1.2, 1.6, m.HOUSING.times(0.7), display, radius=2.0)
        paint_slab(strip, (-9.0, 30.3, 9.0, 33.8), 2.4, 0.4, m.COPPER.times(0.6), radius=0.5, rounded=0.2)
    for x, y in ((-71.5, -41.5), (71.5, -41.5), (-71.5, 41.5), (71.5, 41.5)):
        paint_screw(strip, x, y, 0.0, turn_deg=x + y)
    for i in range(4):
        y = -18.0 + 12 * i
        paint_slab(strip, (68.2, y - 3.5, 74.8, y + 3.5), -0.8, 0.8, m.RUBBER, radius=2.0, rounded=0.7)
    paint_words(strip, "OSSMERE H7", -62.0, -40.2, 2.4, 0.0, (0.42, 0.42, 0.41), 0.85)


def _paint_test_picture(strip: Strip) -> None:
    """Bars, a grey stair and fine lines, as a display shows them in its own light."""
    x0, y0, x1, y1 = grown(_SCREEN, -1.0)
    bars = (
        (0.75, 0.75, 0.75),
        (0.04, 0.62, 0.66),
        (0.66, 0.62, 0.04),
        (0.05, 0.55, 0.06),
        (0.55, 0.06, 0.50),
        (0.06, 0.05, 0.55),
        (0.60, 0.08, 0.05),
    )
    width = (x1 - x0) / len(bars)
    for i, colour in enumerate(bars):
        _surface(strip, (x0 + i * width, y0, x0 + (i + 1) * width, y0 + 30), 0.0, _plain(colour, 1.0))
    for i in range(11):
        left = x0 + i * (x1 - x0) / 11
        grey = (i / 10) ** 2.2 * 0.75 + 0.012
        _surface(strip, (left, y0 + 30, left + (x1 - x0) / 11, y0 + 42), 0.0, _plain((grey,) * 3, 1.0))
    for i in range(30):
        left = x0 + 4 + 0.9 * i
        _surface(strip, (left, y0 + 45, left + 0.45, y1), 0.0, _plain((0.7, 0.7, 0.7), 1.0))
    paint_words(strip, "TEST PICTURE  1/1", x0 + 40, y1 - 5, 4.0, 0.0, (0.72, 0.72, 0.72))


def _paint_back(strip: Strip, present: dict[str, bool], serial: str) -> None:
    """The back with the bail stand folded in, folded out, or its two slots empty."""
    paint_bench(strip, BODY_MM)
    paint_slab(strip, FRONT, 0.0, BODY_MM, m.HOUSING, radius=9.0, rounded=2.5)
    steel = structs.replace(m.DARK_STEEL.times(1.6), gloss=0.3)
    for side in (-1, 1):
        slot = (side * 42 - 10.0, 16.0, side * 42 + 10.0, 23.0)
        paint_pocket(strip, slot, 0.0, 2.6, m.HOUSING.times(0.8), m.FELT, radius=1.6)
        mesh = (side * 30 - 13.0, 38.5, side * 30 + 13.0, 42.5)
        paint_pocket(strip, mesh, 0.0, 0.4, m.HOUSING, steel, radius=2.0)
    paint_slab(strip, (-20.0, -16.0, 20.0, 6.0), -0.1, 0.1, m.LABEL, radius=1.0, rounded=0.1)
    paint_words(strip, "OSSMERE H7", -17.0, -9.5, 2.8, -0.1)
    paint_words(strip, f"S/N {serial}", -17.0, -4.5, 1.8, -0.1)
    paint_words(strip, "Northquay Instrument Depot", -17.0, 0.0, 1.5, -0.1)
    for x, y in ((-71.5, -41.5), (71.5, -41.5), (-71.5, 41.5), (71.5, 41.5), (0.0, 42.0)):
        paint_screw(strip, x, y, 0.0, turn_deg=x - y)
    if present["stand"]:
        _paint_stand(strip, unfolded=not present["folded"])


def _paint_stand(strip: Strip, unfolded: bool) -> None:
    """The stand's two tabs in their slots, its legs and the bar between them."""
    metal = m.STEEL.times(0.7)
    end, lift = (56.0, -9.0) if unfolded else (-31.0, -2.2)
    for side in (-1, 1):
        middle = side * 42
        paint_slab(
            strip, (middle - 8.6, 17.0, middle + 8.6, 22.0), -0.6, 2.6, metal, radius=1.0, rounded=0.5
        )
        low, high = sorted((19.5, end))
        paint_slab(
            strip, (middle - 2.6, low - 1.5, middle + 2.6, high), lift, 2.2, metal, radius=2.0, rounded=0.8
        )
    paint_slab(strip, (-44.6, end - 2.6, 44.6, end + 2.6), lift - 0.2, 2.4, metal, radius=2.5, rounded=0.8)


def _paint_tray(strip: Strip, present: dict[str, bool], serial: str) -> None:
    """The battery tray with the cell in it, or empty with the capped cell in its box."""
    _surface(strip, (-300, -300, 300, 300), 0.0, m.HOUSING.times(0.8))
    tray = (-41.0, -27.0, 41.0, 27.0)
    paint_pocket(strip, tray, 0.0, 5.0, m.HOUSING.times(0.7), m.RUBBER.times(1.6), radius=3.0)
    paint_slab(strip, (-56.0, -9.0, -46.5, 9.0), -1.2, 1.2, m.BOARD, radius=0.6, rounded=0.2)
    paint_slab(strip, (-53.5, -5.0, -48.5, 5.0), -2.6, 1.4, m.NYLON.times(0.9), radius=0.5, rounded=0.3)
    if present["cell"]:
        _paint_cell(strip, 0.0, 0.0)
        for i, colour in enumerate(((0.03, 0.03, 0.35), (0.05, 0.05, 0.05), (0.05, 0.38, 0.42))):
            wire = around(-41.0, -3.0 + 3.0 * i, 8.0, 0.55)
            paint_slab(strip, wire, -2.4, 2.0, _plain(colour), radius=0.5, rounded=0.5)
    else:
        box = (54.0, -36.0, 136.0, 36.0)
        paint_slab(strip, grown(box, 3.0), -9.0, 9.0, _CARTON, radius=1.0, rounded=0.6)
        paint_pocket(strip, box, -9.0, 8.0, _CARTON, _CARTON.times(0.8), radius=1.0)
        _paint_cell(strip, 95.0, 0.0)
        paint_slab(
            strip, (57.0, -4.0, 63.0, 4.0), -2.0, 2.0, _plain((0.06, 0.06, 0.45)), radius=1.0, rounded=0.4
        )
    for x, y in ((-46.5, -32.0), (46.5, -32.0), (-46.5, 32.0), (46.5, 32.0)):
        paint_screw(strip, x, y, 0.0, turn_deg=x)


def _paint_cell(strip: Strip, x: float, y: float) -> None:
    paint_slab(strip, (x - 35.0, y - 23.5, x + 36.0, y + 23.5), -0.4, 5.2, m.FOIL, radius=2.2, rounded=1.2)
    label = (x - 30.0, y - 18.0, x + 31.0, y + 18.0)
    paint_slab(strip, label, -0.45, 0.05, m.LABEL.times(0.9), radius=1.0, rounded=0.1)
    for line, (words, height) in enumerate(
        (
            ("LITHIUM-ION CELL  3.8 V  15.2 Wh", 2.1),
            ("Ossmere H7 service part 41-207", 1.8),
            ("CAUTION  Do not bend, pierce or pry", 2.1),
            ("Isolate before removing the screws", 1.8),
        )
    ):
        paint_words(strip, words, x - 27.0, y - 10.5 + 6.2 * line, height, -0.45)
    tab = (x + 33.0, y - 6.0, x + 39.5, y + 6.0)
    paint_slab(strip, tab, -0.7, 0.3, _plain((0.05, 0.30, 0.55)), radius=2.0, rounded=0.3)


def _paint_antenna(strip: Strip, present: dict[str, bool], serial: str) -> None:
    """The antenna board with its spacers, those named absent left out."""
    _surface(strip, (-200, -200, 200, 200), 2.5, m.HOUSING.times(0.7))
    paint_slab(strip, (-43.0, -27.0, 43.0, 27.0), 0.0, 2.5, m.BOARD, radius=2.0, rounded=0.15)
    for i in range(9):
        y = -6.5 + 1.4 * i
        _surface(strip, (-36.0, y - 0.2, -8.0 - 1.1 * i, y + 0.2), 0.0, m.BOARD.times(1.9))
        x = -8.0 - 1.1 * i
        _surface(strip, (x - 0.2, y, x + 0.2, 20.0), 0.0, m.BOARD.times(1.9))
    _surface(strip, (10.0, -24.0, 40.0, -20.5), 0.0, m.COPPER, radius=0.4)
    _surface(strip, (36.5, -24.0, 40.0, 8.0), 0.0, m.COPPER, radius=0.4)
    for box, words in (
        ((-2.0, -8.0, 14.0, 5.0), "RX-4410"),
        ((-36.0, 9.5, -26.0, 18.5), "PA7"),
        ((18.0, 4.0, 30.0, 12.0), "MX22"),
    ):
        paint_slab(strip, box, -1.1, 1.1, m.FOIL.times(0.55), radius=0.3, rounded=0.2)
        paint_words(
            strip, words, box[0] + 1.2, (box[1] + box[3]) / 2 + 0.7, 1.4, -1.1, (0.3, 0.3, 0.3), 0.8
        )
    rng = np.random.default_rng(4410)
    for _ in range(26):
        x, y = rng.uniform(-38, 38), rng.choice([-18.5, -15.5, 20.5, 23.0])
        if min(abs(x - sx) + abs(y - sy) for sx, sy in SPACERS.values()) > 7:
            chip = around(x, y, 0.9, 0.45)
            paint_slab(strip, chip, -0.5, 0.5, _plain((0.25, 0.33, 0.42)), radius=0.1, rounded=0.1)
    for name, (x, y) in SPACERS.items():
        if name != "middle" or present["middle-post"]:
            _paint_spacer(strip, x, y, present[name])
    if present["plug"]:
        paint_slab(
            strip, (-46.0, -1.3, -37.0, 1.3), -2.2, 1.0, _plain((0.03, 0.03, 0.03)), radius=1.2, rounded=0.7
        )
    _ring(strip, -36.0, 0.0, 2.6, -0.3, m.COPPER.times(0.8))
    if present["plug"]:
        _ring(strip, -36.0, 0.0, 2.3, -2.4, m.STEEL)
    paint_words(strip, "ANTENNA BOARD  H7-C", -20.0, -22.0, 1.5, 0.0, (0.55, 0.58, 0.56), 0.9)


def _paint_spacer(strip: Strip, x: float, y: float, present: bool) -> None:
    _ring(strip, x, y, 3.6, 0.0, m.COPPER)
    if present:
        below = strip.area(0.0, around(x, y, 3.1), margin=4)
        if below is not None:
            below.cast(lambda px, py: m.circle(px, py, x, y, 3.1), 1.6)
        _ring(strip, x, y, 3.1, -1.6, m.NYLON)
    paint_screw(strip, x, y, -1.6 if present else 0.0, turn_deg=40 * x, radius=1.25)


def _paint_plate(strip: Strip, present: dict[str, bool], serial: str) -> None:
    """The type plate with the serial number in letters and as a QR code."""
    _surface(strip, (-200, -200, 200, 200), 0.1, m.HOUSING)
    plate = (-30.0, -14.0, 30.0, 14.0)
    paint_slab(strip, plate, 0.0, 0.1, m.LABEL, radius=1.2, rounded=0.1)
    for words, x, y, height in (
        ("OSSMERE H7", -27.0, -7.6, 3.2),
        ("chart terminal", -27.0, -3.6, 1.7),
        (f"S/N {serial}", -27.0, 2.4, 2.3),
        ("12 V  8 W  IP67", -27.0, 6.6, 1.6),
        ("Northquay Instrument Depot", -27.0, 10.6, 1.5),
    ):
        paint_words(strip, words, x, y, height, 0.0)
    code = (9.0, -9.0, 27.0, 9.0)
    area = strip.area(0.0, code)
    if area is not None:
        area.paint(cells_share(_qr(serial), area, code[0], code[1], code[2] - code[0]), m.INK, 0.2)


def _qr(text: str) -> np.ndarray:
    """Ink (1 dark) of a QR code's modules, without the encoder's white border."""
    picture = cv2.QRCodeEncoder.create().encode(text)
    rows, columns = np.nonzero(picture == 0)
    return picture[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1] == 0


def _surface(strip: Strip, box: Box, depth: float, material: m.Material, radius: float = 0.0) -> None:
    m.lay(strip, box, depth, lambda x, y: m.rectangle(x, y, box, radius), material)


def _ring(strip: Strip, x: float, y: float, radius: float, depth: float, material: m.Material) -> None:
    box = around(x, y, radius)
    m.lay(strip, box, depth, lambda px, py: m.circle(px, py, x, y, radius), material, (0.3, 0.4))


def _plain(colour: Colour, gloss: float = 0.3) -> m.Material:
    return m.Material(colour, "fine", 0.03, 0.05, gloss)


VIEWS: dict[str, Seen] = {
    "front": Seen(_paint_front, 178.0, ("window", "picture")),
    "back": Seen(_paint_back, 178.0, ("stand", "folded"), (0.0, 4.0)),
    "tray": Seen(_paint_tray, 218.0, ("cell",), (38.0, 0.0)),
    "antenna": Seen(_paint_antenna, 100.0, (*SPACERS, "middle-post", "plug")),
    "plate": Seen(_paint_plate, 74.0),
}
