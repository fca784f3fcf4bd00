"""Two photos of the same thing, to be compared beside each other or in one place."""

from kivy.graphics import Line
from kivy.metrics import dp
from kivy.properties import BooleanProperty, ListProperty, NumericProperty
from kivy.uix.stencilview import StencilView
from kivy.uix.widget import Widget

from evidence_app.tablet.widgets import Plate, Words, backed
from evidence_app.tablet.widgets.paint import paint
from evidence_app.tablet.widgets.picture import PhotoPane
from evidence_app.tablet.widgets.sizes import touch

_STEPS = 8
"""Presses that take the line from one edge to the other."""
_APART = 4  # dp, photos beside each other
_JITTER = 8  # dp, of a finger that presses


class PhotoPair(Widget):
    """``first`` and ``second``, moved and zoomed together. With ``over`` they lie in one place, and
    a line that is dragged parts them, ``share`` of the width from the left. ``names``: what each
    of them is, above it; none while ``first`` is alone."""

    over = BooleanProperty(False)
    share = NumericProperty(0.5)
    names = ListProperty([])

    def __init__(self, **given) -> None:
        super().__init__(**given)
        self.first, self.second = PhotoPane(), PhotoPane()
        self.first.beside, self.second.beside = self.second, self.first
        self._seen_of_second = StencilView()
        backed(self._seen_of_second, "well")
        self._seen_of_second.add_widget(self.second)
        self._handle = _Handle(self)
        self._names = [Words(role="head", halign=side) for side in ("left", "right")]
        for child in (self.first, self._seen_of_second, *self._names):
            self.add_widget(child)
        for name in self._names:
            name.bind(height=self._place)
        self.bind(pos=self._place, size=self._place, over=self._place, share=self._place, names=self._place)

    def on_touch_down(self, touch) -> bool:
        """Over each other, the second follows the first one alone."""
        if not self.over:
            return super().on_touch_down(touch)
        return self._handle.on_touch_down(touch) or self.first.on_touch_down(touch)

    def part_at(self, x: float) -> None:
        """Draw the line at ``x`` of the window's pixels, or at the edge next to it."""
        self.share = min(1.0, max(0.0, (x - self.x) / self.width))

    def step(self) -> None:
        """An eighth to the right, and from the right edge to the left one."""
        self.share = self.share + 1 / _STEPS if self.share < 1 - 0.5 / _STEPS else 0.0

    def clear(self) -> None:
        self.first.clear()
        self.second.clear()

    def _place(self, *_) -> None:
        (x, y), (width, height) = self.pos, self.size
        for name, text, left in zip(self._names, self.names or ("", ""), (x, x + width / 2), strict=True):
            name.text, name.width = text, width / 2
            name.pos = left, y + height - name.height
        height -= max(name.height for name in self._names)
        apart = 0 if self.over else dp(_APART)
        line = x + width * (self.share if self.over else 0.5 if self.names else 1)
        self.first.pos = self.pos
        self.first.size = (width, height) if self.over else (line - x - apart, height)
        seen = self._seen_of_second
        seen.pos, seen.size = (line + apart, y), (max(0, x + width - line - apart), height)
        shown = self.first if self.over else seen
        self.second.pos, self.second.size = shown.pos, shown.size
        self._draw_line(line, height)

    def _draw_line(self, line: float, height: float) -> None:
        self.canvas.after.clear()
        if not self.over:
            self.remove_widget(self._handle)
            return
        if self._handle.parent is None:
            self.add_widget(self._handle)
        self._handle.size = touch(), touch()
        left, right = self.x, self.x + self.width - touch()
        self._handle.pos = min(right, max(left, line - touch() / 2)), self.y
        with self.canvas.after:
            for tone, wide in (("ink", 2.4), ("chalk", 1.2)):
                paint(tone)
                Line(points=[line, self.y + touch(), line, self.y + height], width=dp(wide))


class _Handle(Plate):
    """Takes a touch at any time, since nothing is recorded by it."""

    def __init__(self, pair: PhotoPair) -> None:
        self._pair, self._dragged = pair, False
        super().__init__(action="line", mark="divider", call=pair.step, always_release=True)

    def on_ready(self, *_) -> None:
        self.ready = 1

    def _takes(self, touch) -> bool:
        return True

    def on_touch_move(self, touch) -> bool:
        if touch.grab_current is self:
            self._dragged |= abs(touch.x - touch.ox) > dp(_JITTER)
            if self._dragged:
                self._pair.part_at(touch.x)
        return super().on_touch_move(touch)

    def on_release(self) -> None:
        if not self._dragged:
            super().on_release()
        self._dragged = False
