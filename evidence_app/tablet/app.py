"""The window, the keys and the focus ring; the first screen."""

import os
from pathlib import Path

from kivy.app import App
from kivy.clock import Clock
from kivy.core.window import Window

from evidence_app.tablet.presenting import notices
from evidence_app.tablet.settings import Settings
from evidence_app.tablet.window.focus import FocusRing
from evidence_app.tablet.window.frame import Frame
from evidence_app.tablet.worker import Worker
from evidence_app.tablet.workplace import Workplace

_MACHINE_EVERY_S = 10


class TabletApp(App):
    """``clock`` takes the place of the machine's in practice."""

    title = "Evidence App"

    def __init__(
        self,
        settings: Settings,
        problem: str | None = None,
        clock=None,
        camera: str | None = None,
        microphone: str | None = None,
        screenshots: Path | None = None,
        **given,
    ) -> None:
        super().__init__(**given)
        self.worker = Worker(lambda call: Clock.schedule_once(lambda _: call(), 0))
        self.place = Workplace(settings, self.worker, clock, camera, microphone)
        self._problem = problem
        self._screenshots = screenshots
        self._shots = 0
        self._last: tuple | None = None

    def build(self) -> Frame:
        self.frame = Frame(self.place)
        self.ring = FocusRing(self.frame, Window)
        self.frame.go("start")
        if self._problem:
            self.place.tell(notices.refusal_notice(self._problem))
        return self.frame

    def on_start(self) -> None:
        Clock.schedule_interval(lambda _: self.place.tick(), 1)
        Clock.schedule_interval(lambda _: self.frame.signal_hold(), 0.5)
        Clock.schedule_interval(lambda _: self.place.look_at_machine(), _MACHINE_EVERY_S)
        Clock.schedule_once(lambda _: self.place.look_at_machine(), 1)
        self.place.hearing.begin()
        if self._screenshots is not None:
            folder = self._screenshots
            folder.mkdir(parents=True, exist_ok=True)
            Clock.schedule_interval(lambda _: self._screenshot(folder), 0.5)

    def on_stop(self) -> None:
        """Devices are let go and a running note is finished before the process ends."""
        self.place.sensing.end()
        self.place.hearing.end()
        self.place.end_voice()
        self.worker.end()
        if self.place.job is not None:
            self.place.job.close()

    def _screenshot(self, folder: Path) -> None:
        """One picture of each screen when it has come to rest."""
        now = (self.frame.screens.current, tuple(p.text for p in self.frame.plates()))
        if now != self._last:
            self._last = now
            self._shots += 1
            name = f"{self._shots:03d}-{now[0]}.png"
            path = Window.screenshot(name=str(folder / name))
            if path:
                os.replace(path, folder / name)
