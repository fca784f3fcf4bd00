"""Things side by side in rows, as many as there is room for, each row as high as its highest."""

from kivy.metrics import dp
from kivy.properties import NumericProperty, VariableListProperty
from kivy.uix.layout import Layout

from evidence_app.tablet.widgets.sizes import sizes

_MOST_NARROW = 5


class Flow(Layout):
    """``least``: width in dp at 100 percent below which nothing gets. ``most``: at most so many
    in a row. With ``spread`` a row that is not full is spread over the whole width.

    Children say how high they need to be as ``natural_height`` in pixels.
    """

    spacing = NumericProperty(dp(10))
    padding = VariableListProperty([0, 0, 0, 0])

    def __init__(self, *children, least: float = 0, most: int = 100, spread: bool = True, **given) -> None:
        super().__init__(size_hint_y=None, height=0, **given)
        self._least, self._most, self._spread = least, most, spread
        self.bind(pos=self._trigger_layout, size=self._trigger_layout, children=self._trigger_layout)
        sizes.listen(self, lambda flow: flow._trigger_layout())
        for child in children:
            self.add_widget(child)

    def add_widget(self, widget, *given, **named) -> None:
        super().add_widget(widget, *given, **named)
        widget.bind(height=self._trigger_layout)

    def remove_widget(self, widget, *given, **named) -> None:
        widget.unbind(height=self._trigger_layout)
        super().remove_widget(widget, *given, **named)

    def do_layout(self, *_) -> None:
        left, top, right, bottom = self.padding
        placed = list(reversed(self.children))
        rows = self._rows(placed, self.width - left - right)
        highs, between = self._highs(rows)
        self.height = top + sum(highs) + between + bottom if rows else 0
        self._place(rows, highs, self.y + self.height - top)

    def _highs(self, rows) -> tuple[list[float], float]:
        """How high each row must be at the widths of its children, and the gaps between."""
        for row in rows:
            for child, width in row:
                child.width = width
        highs = [max(child.natural_height for child, _ in row) for row in rows]
        return highs, self.spacing * max(0, len(rows) - 1)

    def _place(self, rows, highs, top: float) -> None:
        """Row under row from ``top`` downwards, from the left."""
        y = top
        for row, high in zip(rows, highs, strict=True):
            x = self.x + self.padding[0]
            y -= high
            for child, width in row:
                child.height, child.pos = high, (x, y)
                x += width + self.spacing
            y -= self.spacing

    def _rows(self, placed, room: float) -> list[list[tuple]]:
        """The children of each row with their widths in pixels."""
        if not placed:
            return []
        columns = self._columns(placed, room)
        rows = [placed[at : at + columns] for at in range(0, len(placed), columns)]
        return [
            [(child, self._share(room, len(row) if self._spread else columns)) for child in row]
            for row in rows
        ]

    def _columns(self, placed, room: float) -> int:
        least = dp(self._least) * sizes.percent / 100
        fitting = int((room + self.spacing) // (least + self.spacing)) if least else len(placed)
        return max(1, min(fitting, self._most, len(placed)))

    def _share(self, room: float, parts: int) -> float:
        return max(1, (room - self.spacing * (parts - 1)) / parts)


class ActionRow(Flow):
    """The plates of a screen. The one thing to do next stands at the right, as high as all the
    others together, where the hand finds it on every screen."""

    _MAIN_SHARE = 0.26

    def __init__(self, **given) -> None:
        given.setdefault("padding", [dp(14), dp(8)])
        super().__init__(**given)

    def do_layout(self, *_) -> None:
        main = self._main()
        left, top, right, bottom = self.padding
        room = self.width - left - right
        others = [child for child in reversed(self.children) if child is not main]
        beside = self._beside(main, others, room)
        if beside is None:
            super().do_layout()
            return
        rows = self._even(others, room - beside - self.spacing)
        main.width = beside
        highs, between = self._highs(rows)
        whole = max(main.natural_height, sum(highs) + between)
        highs = [high + (whole - sum(highs) - between) / len(highs) for high in highs]
        self.height = top + whole + bottom
        main.height = whole
        main.pos = (self.x + self.width - right - beside, self.y + bottom)
        self._place(rows, highs, self.y + bottom + whole)

    def _main(self):
        mains = [child for child in self.children if child.kind == "main"]
        return mains[0] if len(mains) == 1 and len(self.children) > 1 else None

    def _beside(self, main, others, room: float) -> float | None:
        """Width of the main plate beside the others; None where it has no room there."""
        if main is None:
            return None
        share = 0.5 if len(others) == 1 else self._MAIN_SHARE
        width = max(share * room, main.fitting_width())
        left = room - width - self.spacing
        fits = left >= max(child.least_width() for child in others)
        return width if fits and len(self._even(others, left)) <= 2 else None

    def _rows(self, placed, room: float) -> list[list[tuple]]:
        main = self._main()
        others = [child for child in placed if child is not main]
        rows = self._even(others, room)
        return rows if main is None else [*rows, [(main, room)]]

    def _even(self, placed, room: float) -> list[list[tuple]]:
        """Rows as even as they come, each over the whole of ``room`` pixels."""
        if not placed:
            return []
        widest = max(child.fitting_width() for child in placed)
        most = max(1, int((room + self.spacing) // (widest + self.spacing)))
        if most < len(placed) <= _MOST_NARROW and self._share(room, len(placed)) >= max(
            child.least_width() for child in placed
        ):
            most = len(placed)  # one row of more lines leaves more of the page than two
        count = -(-len(placed) // most)
        full = -(-len(placed) // count)
        rows = [placed[at : at + full] for at in range(0, len(placed), full)]
        if len(placed) == 1 and placed[0].kind == "plain" and self._main() is None:
            # The way back alone keeps the place that it has beside the thing to do next.
            return [[(placed[0], max(self._share(room, 2), min(room, widest)))]]
        return [[(child, self._share(room, len(row))) for child in row] for row in rows]
