"""Sizes of texts and touch targets, at the density of the screen and the text size set."""

from __future__ import annotations

from kivy.event import EventDispatcher
from kivy.metrics import dp
from kivy.properties import NumericProperty

# In dp (1/160 inch) at 100 percent.
TEXT = {"small": 17, "body": 20, "button": 20, "lead": 25, "title": 30, "key": 26, "huge": 104}

TOUCH_MM = 12.0


class Sizes(EventDispatcher):
    """``percent``: text size from 100 to 200."""

    percent = NumericProperty(100)

    def text(self, role: str) -> float:
        # A countdown is large already; it grows half as much as the rest.
        grown = self.percent / 100 if role != "huge" else (100 + self.percent) / 200
        return dp(TEXT[role]) * grown


sizes = Sizes()


def touch() -> float:
    """The smallest side of a touch target: 12 mm in pixels, rounded up."""
    return dp(76)
