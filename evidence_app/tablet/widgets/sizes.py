"""Sizes of texts and touch targets, at the density of the screen and the text size set."""

from collections.abc import Callable
from typing import Any
from weakref import WeakKeyDictionary

from kivy.event import EventDispatcher
from kivy.metrics import dp
from kivy.properties import NumericProperty

# In dp (1/160 inch) at 100 percent.
TEXT = {
    "small": 17,
    "head": 17,
    "body": 20,
    "button": 20,
    "lead": 25,
    "title": 30,
    "key": 26,
    "value": 46,
    "huge": 104,
}

GUARD_S = 0.5
"""How long a place takes no touch after its meaning changed. A glove bounces for up to 0.4 s
(common practice, no source)."""

_HALF = ("huge", "head")
"""A countdown is large already, and what is always there must leave room for the page: they
grow half as much as the rest."""


class Sizes(EventDispatcher):
    """``percent``: text size from 100 to 200."""

    percent = NumericProperty(100)

    def __init__(self) -> None:
        super().__init__()
        # Widgets come and go by the thousand in a job; one that is gone is forgotten here.
        self._renewed: WeakKeyDictionary[object, Callable[[Any], None]] = WeakKeyDictionary()

    def on_percent(self, *_) -> None:
        self.renew()

    def renew(self) -> None:
        for widget, renew in list(self._renewed.items()):
            renew(widget)

    def listen(self, widget: object, renew: Callable[[Any], None]) -> None:
        """Have ``renew(widget)`` called when the text size or the theme changes, while the widget lives."""
        self._renewed[widget] = renew

    def text(self, role: str) -> float:
        return dp(TEXT[role]) * (self.half if role in _HALF else self.percent / 100)

    @property
    def half(self) -> float:
        """How many times as large as at 100 percent what grows half as much is."""
        return (100 + self.percent) / 200


sizes = Sizes()


def touch() -> float:
    """The smallest side of a touch target: 12 mm in pixels, rounded up."""
    return dp(76)
