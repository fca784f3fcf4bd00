"""The few widgets that every screen is made of. Texts grow; nothing is cut off."""

from collections.abc import Iterable
from functools import lru_cache
from typing import Any

from kivy.clock import Clock
from kivy.core.text import Label as CoreLabel
from kivy.graphics import Color, Ellipse, Line, Mesh, Rectangle
from kivy.metrics import dp
from kivy.properties import BooleanProperty, NumericProperty, ObjectProperty, OptionProperty, StringProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.gridlayout import GridLayout
from kivy.uix.label import Label
from kivy.uix.scrollview import ScrollView
from kivy.uix.widget import Widget

from evidence_app.tablet.presenting.theme import rgba
from evidence_app.tablet.widgets.flow import ActionRow, Flow
from evidence_app.tablet.widgets.paint import paint
from evidence_app.tablet.widgets.shapes import draw_shape, plate_outline
from evidence_app.tablet.widgets.sizes import TEXT, sizes, touch

__all__ = ["ActionRow", "BoldPlate", "Flow", "Page", "Panel", "Plate", "Rows", "Words", "backed", "fill"]


_PICTURE = (128, 84)
"""dp, the room of a picture on a plate."""


class Words(Label):
    """Text that wraps to its width and is as high as it needs."""

    role = OptionProperty("body", options=list(TEXT))
    tone = StringProperty("chalk")

    def __init__(self, **given) -> None:
        given.setdefault("halign", "left")
        given.setdefault("size_hint_y", None)
        given.setdefault("height", 0)  # no words, no height
        super().__init__(**given)
        self.bind(width=self._wrap, padding=self._wrap, texture_size=self._grow)
        self.bind(role=self._style, tone=self._style)
        sizes.listen(self, type(self)._style)
        self._style()
        self._wrap()

    def _style(self, *_) -> None:
        self.font_size = sizes.text(self.role)
        self.bold = self.role in ("title", "lead", "value", "huge")
        self.color = self.disabled_color = rgba(self.tone)

    def _wrap(self, *_) -> None:
        self.text_size = (max(self.width, 1), None)

    def _grow(self, *_) -> None:
        self.height = self.texture_size[1]


@lru_cache(4096)
def _measured(text: str, font_size: float, bold: bool) -> float:
    """Width of a line. Every layout asks it of every word, and the same words stay."""
    return CoreLabel(font_size=font_size, bold=bold).get_extents(text)[0]


class Plate(ButtonBehavior, Words):
    """The one button. ``kind``: "main" (a tag with a hole), "plain", "stop" or "row".

    ``action`` is the name by which touch, keys and voice reach it; ``mark`` a shape
    drawn at its left, ``picture`` a texture beside that, ``call`` what a press does. ``ready`` is 1 when it takes a touch, and
    the part of the wait that is over, by which it is filled, while its ``guard`` says no.
    """

    kind = OptionProperty("plain", options=["main", "plain", "stop", "row"])
    action = StringProperty("")
    mark = StringProperty("")
    picture = ObjectProperty(None, allownone=True)
    call = ObjectProperty(None, allownone=True)
    ringed = BooleanProperty(False)
    ready = NumericProperty(1)
    guard: Any = None  # a window's BounceGuard
    meaning: tuple = ()
    said: tuple[str, ...] = ()  # what presses it where it is spoken
    focusable = True

    def __init__(self, **given) -> None:
        given.setdefault("role", "button")
        super().__init__(**given)
        self._draw = Clock.create_trigger(self._paint, -1)  # once a frame, however much changes
        self.valign = "middle"
        self.bind(kind=self._look, mark=self._look, picture=self._look)
        self.bind(**dict.fromkeys(("pos", "size", "state", "ringed", "disabled", "ready"), self._draw))
        self._look()

    def on_touch_down(self, touch) -> bool:
        if self.collide_point(*touch.pos) and not self._takes(touch):
            return True
        return super().on_touch_down(touch)

    def on_touch_up(self, touch) -> bool:
        if touch.grab_current is self and not self._takes(touch):
            touch.ungrab(self)
            self._do_release()
            return True
        return super().on_touch_up(touch)

    def _takes(self, touch) -> bool:
        began = touch.ud.get("began")
        return self.guard is None or began is None or self.guard.takes(self, began)

    def on_release(self) -> None:
        if self.call is not None and not self.disabled:
            if self.guard is not None:
                self.guard.begin(self)
            self.call()

    def press(self) -> None:
        """As a touch would: from a key or a spoken command."""
        if not self.disabled:
            self.trigger_action(0)

    def fitting_width(self) -> float:
        """Width at which the text stands on one line, or with more words than one on two."""
        line = self._measured(self.text)
        return max(self.least_width(), self._around(line * 0.62 if " " in self.text else line))

    def least_width(self) -> float:
        """Width at which the longest word stands on a line."""
        words = max((self._measured(word) for word in self.text.split()), default=0)
        return max(touch(), self._around(words))

    def _measured(self, text: str) -> float:
        return _measured(text, self.font_size, self.bold)

    def _around(self, width: float) -> float:
        return width + self.padding[0] + self.padding[2] + dp(2)

    @property
    def natural_height(self) -> float:
        return max(touch(), self.texture_size[1], dp(_PICTURE[1] + 12) if self.picture else 0)

    def _grow(self, *_) -> None:
        self.height = self.natural_height

    def _look(self, *_) -> None:
        self.tone = "ink" if self.kind in ("main", "stop") else "chalk"
        left = dp(52) if self.mark or self.kind == "main" else dp(18)
        if self.picture:
            left += dp(_PICTURE[0] + 10)
        self.padding = [left, dp(10), dp(16), dp(10)]
        self._grow()
        self._draw()

    def _room(self) -> tuple[float, float, float, float]:
        """Left, low, width and height of where the picture is drawn."""
        width, height = dp(_PICTURE[0]), dp(_PICTURE[1])
        left = self.x + self.padding[0] - dp(10) - width
        return left, self.y + (self.height - height) / 2, width, height

    def _paint(self, *_) -> None:
        # Not self.right or self.top: they are renewed after those bound to the size hear of it.
        face = {"main": "brass", "stop": "clay", "plain": "board", "row": "ground"}[self.kind]
        points = plate_outline(self.kind, self.x, self.y, self.x + self.width, self.y + self.height)
        self.canvas.before.clear()
        with self.canvas.before:
            waiting = {"main": "chalk", "stop": "chalk"}.get(self.kind, "well")
            paint("chalk" if self.state == "down" and self.kind == "main" else face)
            _polygon(points)
            if self.ready < 1:
                paint(waiting)
                full = self.x + self.width * self.ready
                _polygon([max(at, full) if place % 2 == 0 else at for place, at in enumerate(points)])
            paint("edge" if self.kind in ("plain", "row") else face)
            Line(points=points, width=dp(2.4) if self.state == "down" else dp(1.1), close=True)
            middle = (self.x + dp(28), self.y + self.height / 2)
            if self.kind == "main" and not self.mark:
                paint("ink")
                Ellipse(pos=(middle[0] - dp(7), middle[1] - dp(7)), size=(dp(14), dp(14)))
            if self.mark:
                draw_shape(self.mark, *middle, dp(11), self.tone)
            if self.picture:
                (x, y, *room), own = self._room(), self.picture.size
                scale = min(room[0] / own[0], room[1] / own[1])
                size = (own[0] * scale, own[1] * scale)
                Color(1, 1, 1, 1)
                at = (x + (room[0] - size[0]) / 2, y + (room[1] - size[1]) / 2)
                Rectangle(texture=self.picture, pos=at, size=size)
            if self.ringed:
                inside = (self.x + dp(3), self.y + dp(3), self.width - dp(6), self.height - dp(6))
                for tone, width in (("ink", 4), ("chalk", 2)):
                    paint(tone)
                    Line(rectangle=inside, width=dp(width))


class BoldPlate(Plate):
    """Small words, since it stands where small words stand; bold, since they can be pressed."""

    def _style(self, *_) -> None:
        super()._style()
        self.bold = True


class Rows(GridLayout):
    """One thing under the other, each as high as it needs."""

    def __init__(self, *children: Widget, **given) -> None:
        given.setdefault("cols", 1)
        given.setdefault("spacing", dp(10))
        super().__init__(size_hint_y=None, height=0, **given)
        self.bind(minimum_height=self.setter("height"))
        self.take(children)

    def take(self, children: Iterable[Widget]) -> None:
        """Put ``children`` under what is there, from wherever they stood before."""
        for child in children:
            if child.parent is not None:
                child.parent.remove_widget(child)
            self.add_widget(child)

    @property
    def natural_height(self) -> float:
        return self.minimum_height


class Panel(Rows):
    """Rows on a board of their own; ``face`` and ``border`` are colours of the palette."""

    face = StringProperty("board")
    border = StringProperty("")

    def __init__(self, *children: Widget, **given) -> None:
        given.setdefault("padding", dp(14))
        super().__init__(*children, **given)
        self.bind(pos=self._draw, size=self._draw, face=self._draw, border=self._draw)
        self._draw()

    def _draw(self, *_) -> None:
        self.canvas.before.clear()
        with self.canvas.before:
            paint(self.face)
            Rectangle(pos=self.pos, size=self.size)
            if self.border:
                paint(self.border)
                Rectangle(pos=self.pos, size=(dp(6), self.height))


class Page(ScrollView):
    """What does not fit scrolls; the bar at the right is always shown then."""

    def __init__(self, **given) -> None:
        super().__init__(do_scroll_x=False, bar_width=dp(10), scroll_type=["bars", "content"], **given)
        sizes.listen(self, Page._colour)
        self._colour()
        self.rows = Rows(padding=[dp(18), dp(12), dp(24), dp(18)])
        self.add_widget(self.rows)

    def _colour(self) -> None:
        self.bar_color = self.bar_inactive_color = rgba("edge")

    def refill(self, widgets) -> None:
        self.rows.clear_widgets()
        self.rows.take(widgets)


def backed(widget: Widget, face: str) -> None:
    """Paint ``face`` of the palette behind all of ``widget``, wherever it goes."""
    with widget.canvas.before:
        paint(face)
        back = Rectangle(pos=widget.pos, size=widget.size)
    widget.bind(pos=lambda _, at: setattr(back, "pos", at))
    widget.bind(size=lambda _, size: setattr(back, "size", size))


def fill(row: ActionRow, plates: list[Plate]) -> None:
    row.clear_widgets()
    for plate in plates:
        row.add_widget(plate)


def _polygon(points: list[float]) -> None:
    """A convex polygon, filled."""
    vertices = []
    for at in range(0, len(points), 2):
        vertices += [points[at], points[at + 1], 0, 0]
    Mesh(vertices=vertices, indices=list(range(len(points) // 2)), mode="triangle_fan")
