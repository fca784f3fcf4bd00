"""Words with a shape before them that says the same."""

from kivy.metrics import dp
from kivy.properties import StringProperty

from evidence_app.tablet.widgets import Words
from evidence_app.tablet.widgets.shapes import draw_shape


class MarkedWords(Words):
    """``mark`` is the name of a shape, drawn beside the first line in the tone of the words."""

    mark = StringProperty("")

    def __init__(self, **given) -> None:
        super().__init__(**given)
        self.padding = [dp(36), 0, 0, 0]
        self.bind(pos=self._draw, size=self._draw, mark=self._draw, tone=self._draw, text=self._draw)
        self._draw()

    def _draw(self, *_) -> None:
        self.canvas.before.clear()
        if self.mark and self.text:
            with self.canvas.before:
                middle = self.y + self.height - self.font_size * 0.62
                draw_shape(self.mark, self.x + dp(14), middle, dp(8), self.tone)
