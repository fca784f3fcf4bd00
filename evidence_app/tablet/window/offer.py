"""The offer to take back what was just recorded, in the place of the head's texts.

It is there for a few seconds only. Were it a notice, the page would move down and up again
under a finger on its way; so its place is kept free all the time.
"""

from collections.abc import Callable

from kivy.uix.relativelayout import RelativeLayout
from kivy.uix.widget import Widget

from evidence_app.tablet.presenting.notices import Notice
from evidence_app.tablet.widgets import BoldPlate
from evidence_app.tablet.widgets.sizes import sizes


class HeadPlace(RelativeLayout):
    """Holds the head's texts, its first child; ``offer`` lays a plate over them."""

    def __init__(self, **given) -> None:
        super().__init__(size_hint_y=None, height=0, **given)
        self._plate = BoldPlate(role="head", mark="back", size_hint_y=None)
        self._texts: Widget | None = None
        self._possible = False
        self._plate.bind(height=self._fit)
        self.bind(width=self._fit)
        sizes.listen(self, type(self)._fit)

    def add_widget(self, widget, *given, **named) -> None:
        super().add_widget(widget, *given, **named)
        if self._texts is None:
            self._texts = widget
            widget.bind(height=self._fit)
            self._fit()

    def offer(
        self, notice: Notice | None, words: Callable[[], str], press: Callable[[], None], possible: bool
    ) -> None:
        """``words`` gives what the plate says, shown or not: while an offer is ``possible``
        its height is kept free."""
        self._possible = possible
        self._plate.text = words() if possible else ""
        self._plate.call = press
        if (notice is not None) != (self._plate.parent is not None):
            if notice is None:
                self.remove_widget(self._plate)
            else:
                self._plate.action = notice.action[0] if notice.action else ""
                self.add_widget(self._plate)
            if self._texts is not None:
                self._texts.opacity = 1 if notice is None else 0
        self._fit()

    def _fit(self, *_) -> None:
        if self._texts is None:
            return
        self._plate.width = self.width
        self.height = max(self._texts.height, self._plate.natural_height if self._possible else 0)
        self._texts.width = self.width
        self._texts.y = (self.height - self._texts.height) / 2
        self._plate.y = (self.height - self._plate.height) / 2
