"""The signs of places and tools, each told from the others by its outline."""

from kivy.graphics import Ellipse, Line, Rectangle
from kivy.metrics import dp


def _slides(x, y, r):
    for place, at in enumerate((0.35, -0.45, 0.1)):
        high = y + r * (0.75 - place * 0.75)
        Line(points=[x - r, high, x + r, high], width=dp(1.6))
        Rectangle(pos=(x + r * at - dp(3), high - dp(5)), size=(dp(6), dp(10)))


def _trail(x, y, r):
    """A line of entries, the newest at the top."""
    Line(points=[x - r * 0.7, y - r, x - r * 0.7, y + r], width=dp(1.6))
    for place, long in enumerate((1.0, 0.55, 0.8)):
        high = y + r * (0.75 - place * 0.75)
        Ellipse(pos=(x - r * 0.7 - dp(4), high - dp(4)), size=(dp(8), dp(8)))
        Line(points=[x - r * 0.2, high, x - r * 0.2 + r * 1.2 * long, high], width=dp(2))


def _closer(x, y, r):
    Line(rectangle=(x - r, y - r, 2 * r, 2 * r), width=dp(1.6))
    Line(points=[x - r * 0.5, y, x + r * 0.5, y], width=dp(2))
    Line(points=[x, y - r * 0.5, x, y + r * 0.5], width=dp(2))


def _whole(x, y, r):
    arm = r * 0.6
    for dx in (-1, 1):
        for dy in (-1, 1):
            cx, cy = x + dx * r, y + dy * r
            Line(points=[cx - dx * arm, cy, cx, cy, cx, cy - dy * arm], width=dp(2))


def _pencil(x, y, r):
    Line(
        points=[
            x - r * 0.5,
            y - r * 0.15,
            x + r * 0.55,
            y + r * 0.9,
            x + r * 0.9,
            y + r * 0.55,
            x - r * 0.15,
            y - r * 0.5,
            x - r * 0.75,
            y - r * 0.75,
        ],
        width=dp(1.8),
        close=True,
    )
    Line(points=[x - r, y - r, x + r * 0.6, y - r], width=dp(1.6))


def _glass(x, y, r):
    Line(circle=(x - r * 0.2, y + r * 0.2, r * 0.65), width=dp(2))
    Line(points=[x + r * 0.3, y - r * 0.3, x + r, y - r], width=dp(3))


def _steps(x, y, r):
    """Two sizes of the same bar."""
    Rectangle(pos=(x - r, y - r), size=(r * 0.7, r * 0.9))
    Rectangle(pos=(x - r * 0.05, y - r), size=(r * 1.05, r * 2))


def _tongue(x, y, r):
    Line(
        points=[
            x - r,
            y + r,
            x + r,
            y + r,
            x + r,
            y - r * 0.3,
            x - r * 0.2,
            y - r * 0.3,
            x - r * 0.7,
            y - r,
            x - r * 0.7,
            y - r * 0.3,
            x - r,
            y - r * 0.3,
        ],
        width=dp(1.8),
        close=True,
    )
    Line(points=[x - r * 0.5, y + r * 0.35, x + r * 0.5, y + r * 0.35], width=dp(1.8))


def _hatch(x, y, r):
    for place in range(4):
        at = x - r + place * r * 0.5
        Line(points=[at, y - r, at + r * 0.5, y + r], width=dp(2))


def _key(x, y, r):
    Line(circle=(x - r * 0.5, y, r * 0.45), width=dp(2))
    Line(points=[x - r * 0.05, y, x + r, y, x + r, y - r * 0.5], width=dp(2))
    Line(points=[x + r * 0.55, y, x + r * 0.55, y - r * 0.4], width=dp(2))


def _folder(x, y, r):
    Line(
        points=[
            x - r,
            y - r * 0.75,
            x + r,
            y - r * 0.75,
            x + r,
            y + r * 0.5,
            x,
            y + r * 0.5,
            x - r * 0.25,
            y + r * 0.8,
            x - r,
            y + r * 0.8,
        ],
        width=dp(1.8),
        close=True,
    )


def _person(x, y, r):
    Ellipse(pos=(x - r * 0.4, y + r * 0.2), size=(r * 0.8, r * 0.8))
    Line(
        points=[
            x - r * 0.9,
            y - r,
            x - r * 0.6,
            y - r * 0.1,
            x + r * 0.6,
            y - r * 0.1,
            x + r * 0.9,
            y - r,
        ],
        width=dp(2),
        close=True,
    )


def _alert(x, y, r):
    """The sign before the signal words of hazards to people, after ISO 3864-2."""
    Line(points=[x - r, y - r * 0.8, x + r, y - r * 0.8, x, y + r], width=dp(2), close=True)
    Line(points=[x, y + r * 0.3, x, y - r * 0.2], width=dp(2))
    Ellipse(pos=(x - dp(1.8), y - r * 0.62), size=(dp(3.6), dp(3.6)))


TOOL_SHAPES = {
    "slides": _slides,
    "trail": _trail,
    "closer": _closer,
    "whole": _whole,
    "pencil": _pencil,
    "glass": _glass,
    "steps": _steps,
    "tongue": _tongue,
    "hatch": _hatch,
    "key": _key,
    "folder": _folder,
    "person": _person,
    "alert": _alert,
}
