"""Columns that stand side by side where there is room."""

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from evidence_app.tablet.widgets.sizes import sizes


class Columns(BoxLayout):
    """Columns side by side where the window is wide enough, else one under the other; each
    is as high as it needs and begins at the top. ``least`` dp a column needs at 100 percent."""

    def __init__(self, *columns: Widget, least: float, **given) -> None:
        super().__init__(size_hint_y=None, height=0, spacing=dp(12), **given)
        self._columns, self._least = columns, least
        self._shares = [column.size_hint_x for column in columns]
        for column in columns:
            column.pos_hint = {"top": 1}
            column.bind(height=self._fit)
            self.add_widget(column)
        self.bind(width=self._fit)
        sizes.listen(self, type(self)._fit)
        self._fit()

    def _fit(self, *_) -> None:
        least = dp(self._least) * sizes.percent / 100
        wide = self.width >= least * len(self._columns)
        self.orientation = "horizontal" if wide else "vertical"
        for column, share in zip(self._columns, self._shares, strict=True):
            column.size_hint_x = share if wide else 1
        heights = [column.height for column in self._columns]
        between = self.spacing * (len(heights) - 1)
        self.height = max(heights) if wide else sum(heights) + between
