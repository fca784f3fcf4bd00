"""The listening sign in the head, and the card below it that shows what was heard."""

from typing import Any

from kivy.clock import Clock
from kivy.graphics import Rectangle
from kivy.metrics import dp
from kivy.properties import NumericProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.gridlayout import GridLayout

from evidence_app.language import language, say
from evidence_app.tablet.widgets import ActionRow, BoldPlate, Page, Plate, Words, backed, fill
from evidence_app.tablet.widgets.paint import paint
from evidence_app.tablet.widgets.sizes import sizes, touch

_LOOK_EVERY_S = 0.1
_LEVELS = 6  # steps of the level: the window is drawn anew only when one is crossed
_WIDE = 900
_SIGN, _TEXTS = 340, 500  # dp: the sign, and the texts with the plate beside it
_CARD_SHARE = 0.36  # of the window's height, at most; a longer text scrolls


class TopRow(BoxLayout):
    """The head's texts and the sign side by side where there is room, else one above the
    other."""

    def __init__(self, **given) -> None:
        super().__init__(size_hint_y=None, height=0, **given)
        backed(self, "well")
        self.bind(width=self._fit)
        sizes.listen(self, type(self)._fit)

    def add_widget(self, widget, *given, **named) -> None:
        super().add_widget(widget, *given, **named)
        widget.pos_hint = {"center_y": 0.5}
        widget.bind(height=self._fit)
        self._fit()

    def _fit(self, *_) -> None:
        wide = self.width >= _SIGN * sizes.half * dp(1) + dp(_TEXTS)
        self.orientation = "horizontal" if wide else "vertical"
        for child in self.children:
            child.pos_hint = {"center_y": 0.5} if wide else {}
            if isinstance(child, VoiceBar):
                child.size_hint_x = None if wide else 1
                child.fit()
        heights = [child.height for child in self.children]
        self.height = max(heights, default=0) if wide else sum(heights)


class VoiceBar(BoxLayout):
    """The sign, which is a plate, and the way to the settings of the voice. Only there
    while a job is open, or where the settings have it listen."""

    def __init__(self, **given) -> None:
        super().__init__(
            size_hint=(None, None), width=0, height=0, spacing=dp(8), padding=[dp(8), dp(4)], **given
        )
        self._frame: Any = None
        self._shown: tuple | None = None
        self._sign = Sign(action="listen", role="head")
        self._set = Plate(action="voice", role="head", size_hint_x=None)
        sizes.listen(self, type(self).fit)

    def begin(self, frame) -> None:
        self._frame = frame
        self._hearing = frame.place.hearing
        self._sign.call = self._hearing.toggle
        self._set.call = lambda: frame.go("voice")
        Clock.schedule_interval(lambda _: self._tick(), _LOOK_EVERY_S)

    def refresh(self) -> None:
        job = self._frame.place.job
        open_ = job is not None and job.state.phase in ("preparing", "working", "stopped")
        there = open_ or self._frame.place.settings.listening
        if there != bool(self.children):
            self.clear_widgets()
            self._shown = None
            for widget in (self._sign, self._set) if there else ():
                self.add_widget(widget)
        if there:
            self._show_sign()
        self.fit()

    def fit(self) -> None:
        if not self.children:
            self.width = self.height = 0
            return
        self._set.width = self._set.fitting_width()
        if self.size_hint_x is None:
            self.width = dp(_SIGN) * sizes.half + self._set.width
        self.height = max(self._sign.height, self._set.height, touch()) + dp(8)

    def _tick(self) -> None:
        self._hearing.tick()
        if self._hearing.listener is not None:
            self._frame.show_the_ear()
        if self.children:
            self._show_sign()

    def _show_sign(self) -> None:
        shown = self._hearing.sign()
        hearing = shown.shape in ("ear", "voice", "note")
        self._sign.level = round(self._hearing.level() * _LEVELS) / _LEVELS if hearing else 0.0
        if (shown, language()) == self._shown:
            return
        self._shown = (shown, language())
        self._sign.text = f"{shown.words}\n{shown.hint}"
        self._sign.mark = shown.shape
        self._set.text = say("Voice")
        self.fit()


class Sign(BoldPlate):
    """A plate with a bar at its foot as long as the sound is loud."""

    level = NumericProperty(0.0)

    def __init__(self, **given) -> None:
        super().__init__(**given)
        self.bind(
            height=lambda *_: self.parent.fit() if self.parent is not None else None, level=self._draw
        )

    def _draw(self, *_) -> None:
        super()._draw()
        if self.level > 0:
            with self.canvas.before:
                paint("mint")
                Rectangle(
                    pos=(self.x + dp(1), self.y + dp(1)), size=((self.width - dp(18)) * self.level, dp(5))
                )


class VoiceCard(GridLayout):
    """What was heard, what follows, and plates to answer with. Nothing while there is none."""

    def __init__(self, **given) -> None:
        super().__init__(cols=1, size_hint_y=None, height=0, **given)
        self._frame: Any = None
        self._shown: tuple | None = None
        self._border = "haze"
        self.bind(pos=self._draw, size=self._draw)

    def begin(self, frame) -> None:
        self._frame = frame
        hearing, by_voice = frame.place.hearing, frame.by_voice
        self._calls = {
            "confirm": hearing.confirm,
            "reject": hearing.reject,
            "take-back": by_voice.take_back,
            "understood": lambda: hearing.show_card(None),
        }

    def refresh(self) -> None:
        card = self._frame.place.hearing.card
        shown = (card, sizes.percent, tuple(self._frame.size), language())
        if shown == self._shown:
            return
        self._shown = shown
        self.clear_widgets()
        if card is None:
            self.height, self.padding = 0, [0, 0, 0, 0]
            self._draw()
            return
        self._border = card.border
        self.padding = [dp(20), dp(8), dp(12), dp(8)]
        wide = self._frame.width >= dp(_WIDE) * sizes.percent / 100
        self.cols = 2 if wide and card.plates else 1
        texts = Page(size_hint_y=None)
        texts.rows.spacing = dp(2)
        texts.rows.padding = [0, 0, dp(14), 0]
        self._wide, self._least = wide, touch() if card.plates and wide else 0
        words = [Words(text=card.heard, role="small", tone="haze")] if card.heard else []
        words.append(Words(text=card.words, role="lead" if len(card.words) < 140 else "body"))
        texts.refill(words)
        texts.rows.bind(height=lambda _, high: self._fit(texts, high))
        self._fit(texts, texts.rows.height)
        self.add_widget(texts)
        if card.plates:
            row = ActionRow(padding=[0, 0])
            if wide:
                row.size_hint_x = None
                row.width = min(self._frame.width * 0.5, dp(260) * len(card.plates) * sizes.percent / 100)
            fill(
                row,
                [
                    Plate(text=text, action=action, kind=kind, call=self._calls[action])
                    for action, text, kind in card.plates
                ],
            )
            row.bind(height=lambda _, high: self._beside(texts, high))
            self.add_widget(row)
        self._grow()

    def _fit(self, texts: Page, high: float) -> None:
        bare = high - 2 * texts.rows.padding[1]
        above = max(0.0, (self._least - bare) / 2)  # beside a plate the text stands at its middle
        if abs(above - texts.rows.padding[1]) > 1:
            texts.rows.padding = [0, above, dp(14), above]
        texts.height = min(bare + 2 * above, self._frame.height * _CARD_SHARE)
        self._grow()

    def _beside(self, texts: Page, high: float) -> None:
        if self._wide:
            self._least = high
            self._fit(texts, texts.rows.height)
        self._grow()

    def _grow(self) -> None:
        high = [child.height for child in self.children]
        tall = (max(high, default=0) if self.cols == 2 else sum(high)) if high else 0
        self.height = tall + self.padding[1] + self.padding[3] if high else 0

    def _draw(self, *_) -> None:
        self.canvas.before.clear()
        if self.height <= 0:
            return
        with self.canvas.before:
            paint("board")
            Rectangle(pos=self.pos, size=self.size)
            paint(self._border)
            Rectangle(pos=self.pos, size=(dp(8), self.height))
            Rectangle(pos=self.pos, size=(self.width, dp(2)))
