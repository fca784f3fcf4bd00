"""Reading a code with the camera; with more than one in view, the technician chooses."""

from functools import partial

from kivy.metrics import dp

from evidence_app.language import say
from evidence_app.tablet.eye.codes import codes_in
from evidence_app.tablet.presenting.codes import CodesShown, codes_shown
from evidence_app.tablet.screens.base import BaseScreen, plate
from evidence_app.tablet.widgets import Words
from evidence_app.tablet.widgets.picture import LivePicture

_PICTURES_S = 1 / 15
_LOOKS = 3
"""Pictures looked at together, so that a second code that one picture misses is not passed over."""


class ScanScreen(BaseScreen):
    """``done(text)`` with the one code or the chosen one; ``back()`` to type it instead."""

    def enter(self, asked: str = "", done=None, back=None, reading=None) -> None:
        super().enter()
        self._asked, self._done, self._back, self._reading = asked, done, back, reading
        self._serial = self.job.state.opened.device.serial if self.job is not None else ""
        self._looks: list[tuple[str | None, ...]] = []
        self._reading_code = False
        self._shown: CodesShown = codes_shown((), reading)
        self._live = LivePicture(size_hint_y=None)
        self._words = Words(role="lead")
        self.place.sensing.start_camera(None, self.place.refused)
        self.every(_PICTURES_S, self._look)

    def leave(self) -> None:
        super().leave()
        self.place.sensing.end_camera()

    def show(self) -> None:
        self._words.text = self._shown.words
        if not self.differs(self._asked, self._shown.choices, self.page.height):
            return
        back = plate(say("Type it instead"), "back", self._back, mark="back")
        if len(self._shown.choices) > 1:
            choices = [
                plate(text, f"code {number}", partial(self._done, text), mark="next")
                for number, text in enumerate(self._shown.choices, 1)
            ]
            self.page.refill([self._words, *choices])
            self.fill_row(back, plate(say("Look again"), "again", self._again, mark="shutter"))
            return
        self._live.height = max(dp(180), self.page.height - dp(170))
        self.page.refill([Words(text=self._asked), self._words, self._live])
        self.fill_row(back)

    def _again(self) -> None:
        self._looks = []
        self._shown = codes_shown((), self._reading)
        self.show()

    def _look(self) -> None:
        camera = self.place.sensing.camera
        frame = camera.latest() if camera is not None else None
        if frame is None or len(self._shown.choices) > 1:
            return
        self._live.show(frame)
        if not self._reading_code:
            self._reading_code = True
            self.place.worker.run(lambda: codes_in(frame), self._seen, self._failed, thread="camera")

    def _failed(self, error) -> None:
        self._reading_code = False
        self.place.refused(error)

    def _seen(self, read: tuple[str | None, ...]) -> None:
        self._reading_code = False
        if self.frame.screen is not self or len(self._shown.choices) > 1:
            return
        self._looks = [*self._looks, read][-_LOOKS:]
        shown = codes_shown([code for look in self._looks for code in look], self._reading, self._serial)
        # Looked at for long enough since the first code came into the picture.
        enough = len(self._looks) == _LOOKS and self._looks[0]
        if enough and len(shown.choices) == 1:
            self._done(shown.choices[0])
        elif enough or not shown.choices:
            self._shown = shown
            self.show()
