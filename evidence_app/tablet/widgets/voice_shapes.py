"""The signs of listening, each told from the others by its outline alone.

Rings around a point: it listens. Bars of uneven length: somebody speaks. A bar over a
ticked line: something was heard. A filled wedge with one bow: it speaks itself. The ring
struck through: it does not listen.
"""

from kivy.graphics import Ellipse, Line, Rectangle, Triangle
from kivy.metrics import dp


def _ear(x, y, r):
    Ellipse(pos=(x - r * 0.3, y - r * 0.3), size=(r * 0.6, r * 0.6))
    Line(circle=(x, y, r * 0.62), width=dp(1.6))
    Line(circle=(x, y, r), width=dp(1.6))


def _voice(x, y, r):
    for place, high in enumerate((0.5, 1.0, 0.35, 0.8, 0.55)):
        at = x - r + place * r / 2
        Rectangle(pos=(at - dp(1.6), y - r * high), size=(dp(3.2), 2 * r * high))


def _heard(x, y, r):
    Line(points=[x - r, y, x - r * 0.3, y - r * 0.8, x + r, y + r * 0.8], width=dp(2.6))


def _speaking(x, y, r):
    Triangle(points=[x - r, y, x, y + r, x, y - r])
    Line(circle=(x, y, r * 0.75, 40, 140), width=dp(1.8))
    Line(circle=(x, y, r * 1.15, 40, 140), width=dp(1.8))


def _deaf(x, y, r):
    Line(circle=(x, y, r), width=dp(1.6))
    Line(points=[x - r, y - r, x + r, y + r], width=dp(2.6))


VOICE_SHAPES = {"ear": _ear, "voice": _voice, "heard": _heard, "speaking": _speaking, "deaf": _deaf}
