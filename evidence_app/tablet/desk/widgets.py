"""What several of the desk's screens are made of."""

from __future__ import annotations

from kivy.graphics import Color, Line, Rectangle
from kivy.graphics.texture import Texture
from kivy.metrics import dp
from kivy.uix.gridlayout import GridLayout
from kivy.uix.image import Image
from kivy.uix.widget import Widget

from evidence_app.tablet.presenting.theme import rgba
from evidence_app.tablet.widgets import Panel, Plate, Rows, Words

MONO = "RobotoMono-Regular"
"""Checksums in it stand under each other sign by sign."""
_THUMB = 190


class Bar(Widget):
    """How far something is, from 0 to 1. The words stand beside it."""

    def __init__(self, **given) -> None:
        super().__init__(size_hint_y=None, height=dp(20), **given)
        self._share = 0.0
        self.bind(pos=self._draw, size=self._draw)

    def display(self, share: float) -> None:
        self._share = min(1.0, max(0.0, share))
        self._draw()

    def _draw(self, *_) -> None:
        self.canvas.clear()
        with self.canvas:
            Color(*rgba("well"))
            Rectangle(pos=self.pos, size=self.size)
            Color(*rgba("brass"))
            Rectangle(pos=self.pos, size=(self.width * self._share, self.height))
            Color(*rgba("edge"))
            Line(rectangle=(*self.pos, *self.size), width=dp(1))


class ProgressPanel(Panel):
    """What is under way, in words and as a bar."""

    def __init__(self, progress, **given) -> None:
        super().__init__(border="brass", **given)
        self._head, self._words, self._bar = Words(role="lead"), Words(), Bar()
        for widget in (self._head, self._words, self._bar):
            self.add_widget(widget)
        self.display(progress)

    def display(self, progress) -> None:
        self._head.text, self._words.text = progress.head, progress.words
        self._bar.display(progress.share)


class TypedField(Panel):
    """Shows what is being typed or scanned on this screen, and what came of it."""

    def __init__(self, asked: str, **given) -> None:
        super().__init__(border="brass", **given)
        self._value = Words(role="lead")
        self._answer = Words()
        self.add_widget(Words(text=asked))
        self.add_widget(self._value)
        self.add_widget(self._answer)
        self.display("")

    def display(self, typed: str, answer: str = "", tone: str = "chalk") -> None:
        self._value.text = f"{typed}_"
        self._answer.text, self._answer.tone = answer, tone


class PicturePlate(Rows):
    """A small picture above the plate that opens it large."""

    def __init__(self, texture, plate: Plate, **given) -> None:
        super().__init__(spacing=dp(4), **given)
        if texture is not None:
            self.add_widget(
                Image(texture=texture, size_hint_y=None, height=dp(_THUMB), fit_mode="contain")
            )
        self.add_widget(plate)


def panel(
    title: str, *texts: str, border: str = "", tone: str = "chalk", title_tone: str = ""
) -> Panel:
    """A board with a title and texts below it."""
    made = Panel(border=border)
    made.add_widget(Words(text=title, role="lead", tone=title_tone or tone))
    for text in texts:
        made.add_widget(Words(text=text, tone=tone))
    return made


class TopGrid(GridLayout):
    """Cells stand at the top of their row, where a reader looks, not at its foot."""

    def do_layout(self, *arguments) -> None:
        super().do_layout(*arguments)
        cells = self.children[::-1]
        for at in range(0, len(cells), self.cols):
            row = cells[at : at + self.cols]
            top = max(cell.top for cell in row)
            for cell in row:
                cell.top = top


def pairs(rows, name_share: float = 0.34, font: str = "Roboto") -> GridLayout:
    """(name, value) side by side."""
    grid = TopGrid(cols=2, size_hint_y=None, height=0, spacing=[dp(12), dp(6)])
    grid.bind(minimum_height=grid.setter("height"))
    for name, value in rows:
        grid.add_widget(Words(text=name, tone="brass", role="small", size_hint_x=name_share))
        grid.add_widget(Words(text=value, role="small", size_hint_x=1 - name_share, font_name=font))
    return grid


def table(headings, rows, tones) -> GridLayout:
    """Cells in columns; ``tones`` one for each row."""
    grid = TopGrid(cols=len(headings), size_hint_y=None, height=0, spacing=[dp(12), dp(8)])
    grid.bind(minimum_height=grid.setter("height"))
    for heading in headings:
        grid.add_widget(Words(text=heading, tone="brass", role="small"))
    for row, tone in zip(rows, tones, strict=True):
        for cell in row:
            grid.add_widget(Words(text=cell, role="small", tone=tone))
    return grid


def texture_of(picture):
    """A Kivy texture of a picture (H, W, 3), uint8, BGR; None for None."""
    if picture is None:
        return None
    height, width = picture.shape[:2]
    texture = Texture.create(size=(width, height), colorfmt="bgr")
    texture.flip_vertical()
    texture.blit_buffer(picture.tobytes(), colorfmt="bgr", bufferfmt="ubyte")
    return texture
