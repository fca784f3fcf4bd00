"""The project's own signs, from shapes.toml beside this file; and a plate's outline."""

import tomllib
from pathlib import Path

from kivy.graphics import Ellipse, Line, Rectangle, Triangle
from kivy.metrics import dp

from evidence_app.tablet.widgets.paint import paint

_SHAPES = tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))


def plate_outline(kind: str, x: float, y: float, right: float, top: float) -> list[float]:
    """A tag with two cut corners, an octagon for stopping, else one cut corner."""
    cut = min(dp(16), (top - y) / 3)
    if kind == "main":
        return [x + cut, y, right, y, right, top, x + cut, top, x, top - cut, x, y + cut]
    if kind == "stop":
        below = [x, y + cut, x + cut, y, right - cut, y, right, y + cut]
        return [*below, right, top - cut, right - cut, top, x + cut, top, x, top - cut]
    if kind == "row":
        return [x, y, right, y, right, top, x, top]
    return [x, y, right - cut, y, right, y + cut, right, top, x, top]


def draw_shape(name: str, x: float, y: float, r: float, tone: str) -> None:
    """Draw ``name`` around (x, y) with half-width ``r`` into the canvas in use."""
    paint(tone)
    for stroke in _SHAPES[name]:
        kind, *written = stroke.split()
        numbers = [float(number) for number in written]
        if kind in ("line", "loop", "ring"):
            width, *numbers = numbers
        places = [number * r + (y if at % 2 else x) for at, number in enumerate(numbers)]
        if kind in ("line", "loop"):
            Line(points=places, width=dp(width), close=kind == "loop")
        elif kind == "ring":
            Line(circle=(*places[:2], numbers[2] * r, *numbers[3:]), width=dp(width))
        elif kind == "wedge":
            Triangle(points=places)
        elif kind == "bar":
            Rectangle(pos=places[:2], size=(numbers[2] * r, numbers[3] * r))
        else:
            if kind == "hole":
                paint("ground")
            across = 2 * numbers[2] * r
            Ellipse(pos=(places[0] - across / 2, places[1] - across / 2), size=(across, across))
