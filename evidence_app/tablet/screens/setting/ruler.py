"""Measure the screen: a bar that is made as long as the check bar of the scale card."""

from functools import partial

from kivy.graphics import Rectangle
from kivy.metrics import Metrics, dp
from kivy.uix.widget import Widget

from evidence_app.language import say
from evidence_app.photo.card.layout import card_layout
from evidence_app.tablet.screens.base import BaseScreen, plate, tiles
from evidence_app.tablet.setup import density
from evidence_app.tablet.widgets import Words
from evidence_app.tablet.widgets.paint import paint
from evidence_app.tablet.widgets.sizes import sizes

_SHORTEST, _LONGEST = 100, 1200  # pixels of 50 mm: 2 to 24 per mm
_BY = {"much-shorter": -20, "shorter": -1, "longer": 1, "much-longer": 20}


class RulerScreen(BaseScreen):
    """``_pixels``: the length of the bar."""

    def enter(self) -> None:
        super().enter()
        self._mm = card_layout().check_bar.length
        self._pixels = round(Metrics.density * 160 / 25.4 * self._mm)

    def show(self) -> None:
        if not self.differs(self._pixels, Metrics.density):
            return
        names = (say("Much shorter"), say("Shorter"), say("Longer"), say("Much longer"))
        turns = zip(_BY.items(), names, strict=True)
        how = say(
            "Lay the scale card on the screen, its bar of {length} against the bar here, and make this"
            " one as long. What is touched then becomes large enough for a glove.",
            length=f"{self._mm:g} mm",
        )
        self.titled(
            say("Measure the screen"),
            Words(text=how),
            _Bar(self._pixels),
            tiles(*(plate(name, action, partial(self._turn, by)) for (action, by), name in turns)),
        )
        self.fill_row(
            self.back_plate(self.door("settings")),
            plate(say("Both are as long"), "as-long", self._keep, "main"),
        )

    def _turn(self, by: int) -> None:
        self._pixels = min(max(self._pixels + by, _SHORTEST), _LONGEST)
        self.show()

    def _keep(self) -> None:
        measured = self._pixels / self._mm
        self.place.change_settings(pixels_per_mm=measured)
        Metrics.density = density(measured)
        sizes.renew()
        self.frame.go("settings")


class _Bar(Widget):
    """Its outer edges are ``pixels`` apart."""

    def __init__(self, pixels: int) -> None:
        super().__init__(size_hint=(None, None), size=(pixels, dp(40)))
        with self.canvas:
            paint("mint")
            self._lines = [Rectangle() for _ in range(3)]
        self.bind(pos=self._draw)

    def _draw(self, *_) -> None:
        thin, (x, y), (width, height) = dp(3), self.pos, self.size
        left, middle, right = self._lines
        left.pos, left.size = (x, y), (thin, height)
        middle.pos, middle.size = (x, y + height / 2), (width, thin)
        right.pos, right.size = (x + width - thin, y), (thin, height)
