"""The offer to take back what was just recorded, in the place of the head's texts.

It is there for a few seconds only. Were it a notice, the page would move down and up again
under a finger on its way; so its place is kept free all the time.
"""

from collections.abc import Callable

from kivy.uix.relativelayout import RelativeLayout
from kivy.uix.widget import Widget

from evidence_app.tablet.presenting.notices import OFFER
from evidence_app.tablet.widgets import BoldPlate
from evidence_app.tablet.widgets.sizes import sizes


class HeadPlace(RelativeLayout):
    """Holds the head's texts, its first child; ``offer`` lays a plate over them."""

    def __init__(self, **given) -> None:
        super().__init__(size_hint_y=None, height=0, **given)
        self._plate = BoldPlate(role="head", mark="back", action=OFFER, size_hint_y=None)
        self._texts: Widget | None = None
        self._plate.bind(height=self._fit)
        self.bind(width=self._fit)
        sizes.listen(self, type(self)._fit)

    def add_widget(self, widget, *given, **named) -> None:
        super().add_widget(widget, *given, **named)
        if self._texts is None:
            self._texts = widget
            widget.bind(height=self._fit)
            self._fit()

    def offer(self, words: str, shown: bool, press: Callable[[], None]) -> None:
        """``words``, which the plate says, are there while an offer is possible: its height is
        kept free then, ``shown`` or not."""
        self._plate.text, self._plate.call = words, press
        if shown != (self._plate.parent is not None):
            change = self.add_widget if shown else self.remove_widget
            change(self._plate)
            if self._texts is not None:
                self._texts.opacity = 0 if shown else 1
        self._fit()

    def _fit(self, *_) -> None:
        if self._texts is None:
            return
        self._plate.width = self.width
        self.height = max(self._texts.height, self._plate.natural_height if self._plate.text else 0)
        self._texts.width = self.width
        self._texts.y = (self.height - self._texts.height) / 2
        self._plate.y = (self.height - self._plate.height) / 2
