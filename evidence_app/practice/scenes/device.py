"""The Ossmere H7 seen whole and inside: front, back, battery tray, antenna board, plate.

These scenes are looked at, not measured. What stands where is in device.toml.
"""

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

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

_FILE = tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))
_SCREEN: Box = (-58.0, -30.0, 58.0, 30.0)
BODY_MM = 14.0


class Seen(Struct, frozen=True):
    """A scene: its name in device.toml, the width of what is seen, where the camera is aimed, and
    the parts that can be absent."""

    drawing: str
    field_mm: float
    parts: tuple[str, ...] = ()
    aim: tuple[float, float] = (0.0, 0.0)

    def paint(self, strip: Strip, present: dict[str, bool], serial: str) -> None:
        for shape in _FILE["drawings"][self.drawing]:
            given = dict(shape)
            parts = given.pop("when", "").split()
            if all(present[part.removeprefix("!")] != part.startswith("!") for part in parts):
                _draw(strip, given, present, serial)


def _draw(strip: Strip, given: dict[str, Any], present: dict[str, bool], serial: str) -> None:
    paint = _PAINTERS[given.pop("draw")]
    for key in {"material", "wall", "floor"} & given.keys():
        given[key] = _material(given[key])
    for key in {"words", "serial"} & given.keys():
        given[key] = given[key].format(serial=serial)
    if "name" in given:
        given["present"] = present[given["name"]]
    paint(strip, **{key: tuple(v) if isinstance(v, list) else v for key, v in given.items()})


def _material(name: str) -> m.Material:
    if name not in _FILE["materials"]:
        return getattr(m, name)
    told = dict(_FILE["materials"][name])
    if "colour" in told:
        return m.Material(**{**_PLAIN, **told, "colour": tuple(told["colour"])})
    like = _material(told["like"]).times(told["times"])
    return structs.replace(like, gloss=told.get("gloss", like.gloss))


# The spacers of an antenna board: place of each on it. Only a board that has a
# neighbour shares the middle one with it, on a post of its own.
SPACERS = {"first": (-27.0, -13.0), "second": (27.0, -13.0), "middle": (4.0, 15.0)}


def _test_picture(strip: Strip) -> None:
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


def _cell(strip: Strip, x: float, y: float) -> None:
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


def _traces(strip: Strip) -> None:
    for i in range(9):
        y = -6.5 + 1.4 * i
        _surface(strip, (-36.0, y - 0.2, -8.0 - 1.1 * i, y + 0.2), 0.0, m.BOARD.times(1.9))
        x = -8.0 - 1.1 * i
        _surface(strip, (x - 0.2, y, x + 0.2, 20.0), 0.0, m.BOARD.times(1.9))


def _chips(strip: Strip) -> None:
    rng = np.random.default_rng(4410)
    for _ in range(26):
        x, y = rng.uniform(-38, 38), rng.choice([-18.5, -15.5, 20.5, 23.0])
        if min(abs(x - sx) + abs(y - sy) for sx, sy in SPACERS.values()) > 7:
            chip = around(x, y, 0.9, 0.45)
            paint_slab(strip, chip, -0.5, 0.5, _plain((0.25, 0.33, 0.42)), radius=0.1, rounded=0.1)


def _spacer(strip: Strip, name: str, present: bool) -> None:
    x, y = SPACERS[name]
    _ring(strip, x, y, 3.6, 0.0, m.COPPER)
    if present:
        below = strip.area(0.0, around(x, y, 3.1), margin=4)
        if below is not None:
            below.cast(lambda px, py: m.circle(px, py, x, y, 3.1), 1.6)
        _ring(strip, x, y, 3.1, -1.6, m.NYLON)
    paint_screw(strip, x, y, -1.6 if present else 0.0, turn_deg=40 * x, radius=1.25)


def _code(strip: Strip, serial: str) -> None:
    """The serial number as a QR code, on the type plate."""
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


_PLAIN: dict[str, Any] = {"grain": "fine", "depth": 0.03, "texel": 0.05, "gloss": 0.3}


def _plain(colour: Colour, gloss: float = 0.3) -> m.Material:
    return m.Material(colour, **{**_PLAIN, "gloss": gloss})


_PAINTERS: dict[str, Callable] = {
    "bench": paint_bench,
    "slab": paint_slab,
    "pocket": paint_pocket,
    "screw": paint_screw,
    "words": paint_words,
    "surface": _surface,
    "ring": _ring,
    "test-picture": _test_picture,
    "cell": _cell,
    "traces": _traces,
    "chips": _chips,
    "spacer": _spacer,
    "code": _code,
}
VIEWS: dict[str, Seen] = {
    "front": Seen("front", 178.0, ("window", "picture")),
    "back": Seen("back", 178.0, ("stand", "folded"), (0.0, 4.0)),
    "tray": Seen("tray", 218.0, ("cell",), (38.0, 0.0)),
    "antenna": Seen("antenna", 100.0, (*SPACERS, "middle-post", "plug")),
    "plate": Seen("plate", 74.0),
}
