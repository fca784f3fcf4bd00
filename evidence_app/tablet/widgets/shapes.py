"""The project's own signs, drawn as simple shapes around a middle; and a plate's outline.

Each says the same as the words beside it: a punched square for done, an open one for
owed, one with a bar for what is not settled, a pointer for what is due now.
"""

from kivy.graphics import Color, Ellipse, Line, Rectangle, Triangle
from kivy.metrics import dp

from evidence_app.tablet.presenting.theme import rgba
from evidence_app.tablet.widgets.tool_shapes import TOOL_SHAPES
from evidence_app.tablet.widgets.voice_shapes import VOICE_SHAPES


def plate_outline(kind: str, x: float, y: float, right: float, top: float) -> list[float]:
    """A tag with two cut corners, an octagon for stopping, else one cut corner."""
    cut = min(dp(16), (top - y) / 3)
    if kind == "main":
        return [x + cut, y, right, y, right, top, x + cut, top, x, top - cut, x, y + cut]
    if kind == "stop":
        return [
            x + cut,
            y,
            right - cut,
            y,
            right,
            y + cut,
            right,
            top - cut,
            right - cut,
            top,
            x + cut,
            top,
            x,
            top - cut,
            x,
            y + cut,
        ]
    if kind == "row":
        return [x, y, right, y, right, top, x, top]
    return [x, y, right - cut, y, right, y + cut, right, top, x, top]


def draw_shape(name: str, x: float, y: float, r: float, tone: str) -> None:
    """Draw ``name`` around (x, y) with half-width ``r`` into the canvas in use."""
    Color(*rgba(tone))
    _SHAPES[name](x, y, r)


def _owed(x, y, r):
    Line(rectangle=(x - r, y - r, 2 * r, 2 * r), width=dp(1.6))


def _done(x, y, r):
    Rectangle(pos=(x - r, y - r), size=(2 * r, 2 * r))
    Color(*rgba("ground"))
    Ellipse(pos=(x - r * 0.45, y - r * 0.45), size=(r * 0.9, r * 0.9))


def _next(x, y, r):
    Triangle(points=[x - r, y - r, x - r, y + r, x + r, y])


def _open(x, y, r):
    Line(rectangle=(x - r, y - r, 2 * r, 2 * r), width=dp(1.6))
    Line(points=[x - r, y, x + r, y], width=dp(2))


def _shutter(x, y, r):
    Line(circle=(x, y, r), width=dp(2))
    Ellipse(pos=(x - r * 0.55, y - r * 0.55), size=(r * 1.1, r * 1.1))


def _note(x, y, r):
    for place, high in enumerate((0.4, 1.0, 0.6, 0.85, 0.3)):
        at = x - r + place * r / 2
        Line(points=[at, y - r * high, at, y + r * high], width=dp(2))


def _back(x, y, r):
    Line(points=[x + r, y + r, x - r * 0.6, y, x + r, y - r], width=dp(2.4))


def _rule(x, y, r):
    Line(points=[x - r, y - r, x + r, y - r], width=dp(2))
    for place, high in enumerate((1.8, 0.8, 1.3, 0.8, 1.8)):
        at = x - r + place * r / 2
        Line(points=[at, y - r, at, y - r + r * high], width=dp(1.6))


def _stop(x, y, r):
    c = r * 0.42
    Line(
        points=[
            x - c,
            y - r,
            x + c,
            y - r,
            x + r,
            y - c,
            x + r,
            y + c,
            x + c,
            y + r,
            x - c,
            y + r,
            x - r,
            y + c,
            x - r,
            y - c,
        ],
        width=dp(2),
        close=True,
    )
    Line(points=[x - r * 0.5, y, x + r * 0.5, y], width=dp(2.6))


_SHAPES = {
    "owed": _owed,
    "done": _done,
    "next": _next,
    "open": _open,
    "shutter": _shutter,
    "note": _note,
    "back": _back,
    "rule": _rule,
    "stop": _stop,
    **VOICE_SHAPES,
    **TOOL_SHAPES,
}
