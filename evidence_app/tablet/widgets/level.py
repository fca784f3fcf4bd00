"""How loud it is, or how much of a time is over, as a bar of pieces that stand up."""

from kivy.graphics import Rectangle
from kivy.metrics import dp
from kivy.uix.widget import Widget

from evidence_app.tablet.widgets.paint import paint


class LevelBar(Widget):
    def __init__(self) -> None:
        super().__init__(size_hint_y=None, height=dp(30))
        self._share = 0.0
        self.bind(pos=self._draw, size=self._draw)

    def fill(self, share: float) -> None:
        """``share`` from 0 to 1."""
        self._share = max(0.0, min(1.0, share))
        self._draw()

    def _draw(self, *_) -> None:
        self.canvas.clear()
        with self.canvas:
            pieces = 24
            width = self.width / pieces
            for piece in range(pieces):
                lit = piece < self._share * pieces
                paint("mint" if lit else "board")
                Rectangle(
                    pos=(self.x + piece * width, self.y),
                    size=(width - dp(4), self.height if lit else self.height / 3),
                )
