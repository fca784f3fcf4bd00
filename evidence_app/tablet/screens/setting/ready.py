"""What works on this tablet: each part tried, with its remedy, as `evidence-app ready` does."""

from collections.abc import Iterator
from pathlib import Path

from kivy.uix.widget import Widget

from evidence_app.language import say
from evidence_app.locations import device_key_path
from evidence_app.machine.part import STATE_WORDS, MachinePart
from evidence_app.machine.ready import look
from evidence_app.tablet.screens.base import BaseScreen, plate, tiles
from evidence_app.tablet.widgets import Panel, Words

_TONES = {"works": "mint", "limited": "brass", "fails": "clay"}


class ReadyScreen(BaseScreen):
    """Some parts take seconds, so that each is shown as soon as it is known; ``_trying`` gives
    the next one, None when all are known or the screen was left."""

    def enter(self) -> None:
        super().enter()
        settings = self.place.settings
        key_list = Path(settings.key_list) if settings.key_list else None
        self._known: list[MachinePart] = []
        trying = look(settings.camera, settings.microphone, settings.language, device_key_path(), key_list)
        self._trying: Iterator[MachinePart] | None = trying
        self._next(trying)

    def leave(self) -> None:
        super().leave()
        self._trying = None

    def show(self) -> None:
        if not self.differs(len(self._known), self._trying is None):
            return
        widgets: list[Widget] = [tiles(*(self._panel(part) for part in self._known))]
        if self._trying is not None:
            widgets.append(Words(text=say("Trying the next part …"), tone="brass"))
        self.titled(say("What works on this tablet"), *widgets)
        self.fill_row(
            self.back_plate(self.door("settings")),
            plate(say("Try all again"), "try-all", self.door("ready"), mark="next"),
        )

    def _panel(self, part: MachinePart) -> Panel:
        head = f"{say(part.name)}: {say(STATE_WORDS[part.state])}"
        return Panel(Words(text=head, role="lead"), Words(text=part.words(say)), border=_TONES[part.state])

    def _next(self, trying: Iterator[MachinePart]) -> None:
        def done(part: MachinePart | None) -> None:
            if trying is not self._trying:  # left, or begun anew
                return
            if part is None:
                self._trying = None
            else:
                self._known.append(part)
                self._next(trying)
            self.show()

        self.place.worker.run(lambda: next(trying, None), done, self.place.refused, thread="camera")
