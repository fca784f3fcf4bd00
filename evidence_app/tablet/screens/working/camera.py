"""The live picture with its framing outline, the gate's live meters, one large shutter."""

from kivy.clock import Clock
from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout

from evidence_app.job import commands as c
from evidence_app.language import say
from evidence_app.tablet.presenting import notices
from evidence_app.tablet.presenting.working.photo import camera_shown, meters, wanted_here
from evidence_app.tablet.screens.base import BaseScreen, beside, plate
from evidence_app.tablet.widgets import Page, Panel, Words
from evidence_app.tablet.widgets.picture import LivePicture
from evidence_app.tablet.widgets.shapes import draw_shape

_PICTURES_S = 1 / 25
_METERS_S = 0.5


class CameraScreen(BaseScreen):
    """The picture beside its meters in landscape, above them in portrait."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._split = BoxLayout()
        self.live = LivePicture()
        self._side = Page()
        self._split.add_widget(self.live)
        self._split.add_widget(self._side)
        self.put_for_page(self._split)
        self._split.bind(size=self._turn)
        self._clocks = []
        self._wanted, self._busy = None, False

    def enter(self, wanted: str | None = None) -> None:
        self._filled = None
        self._wanted, self._busy = wanted, False
        self._side.scroll_y = 1
        self._turn()  # the text size may be another than it was
        self.place.sensing.start_camera(wanted, self.place.refused)
        self._clocks = [
            Clock.schedule_interval(lambda _: self._picture(), _PICTURES_S),
            Clock.schedule_interval(lambda _: self._meters(), _METERS_S),
        ]

    def leave(self) -> None:
        for clock in self._clocks:
            clock.cancel()
        self.place.sensing.end_camera()

    @property
    def scroll(self) -> Page:
        return self._side

    def show(self) -> None:
        job = self.job
        if job is None:
            return
        state = job.state
        wanted = wanted_here(job.step_list, state, self._wanted)
        earlier = (
            state.photo_of_reason(self._wanted)
            if state.phase == "stopped"
            else state.photo_of(state.step or "", self._wanted or "")
        )
        shown = camera_shown(wanted, earlier)
        found = meters(self.place.sensing.seen, shown.card)
        present = self.place.sensing.camera is not None
        if not self.differs(shown, found, self._busy, present):
            return
        widgets = [Words(text=shown.framing, role="lead")]
        if shown.retake:
            widgets.append(Words(text=shown.retake, role="small"))
        widgets += [_Meter(meter) for meter in found]
        self._side.refill(widgets)
        shutter = plate(
            say("Storing the photo …") if self._busy else self.phrased(say("Take the photo"), "photo"),
            "shutter",
            self._take,
            "main",
            "shutter",
        )
        shutter.disabled = self._busy
        self.fill_row(plate(say("Back"), "back", self.frame.home, mark="back"), shutter)

    def _turn(self, *_) -> None:
        beside(self._split, self._side, 0.3, 0.6)

    def _picture(self) -> None:
        camera = self.place.sensing.camera
        frame = camera.latest() if camera is not None else None
        if frame is not None:
            self.live.show(frame)

    def _meters(self) -> None:
        if not self._busy:
            self.place.sensing.glance_live()
        self.show()

    def _take(self) -> None:
        if not notices.room_for_more(self.place.free_bytes()):
            self.place.look_at_machine()
            return
        self._busy = True
        self.show()
        self.place.sensing.take(self._taken, self._not_taken)

    def _taken(self, shot) -> None:
        purpose = "stop-reason" if self.job.state.phase == "stopped" else "checkpoint"
        command = c.TakePhoto(shot.data, self._wanted, purpose if self._wanted else "note", shot.source)
        self.place.do(command, self._stored, self._not_taken)

    def _stored(self) -> None:
        self._busy = False
        self.frame.go("photo", wanted=self._wanted)

    def _not_taken(self, error) -> None:
        self._busy = False
        self.place.refused(error)


class _Meter(Panel):
    def __init__(self, meter) -> None:
        super().__init__(padding=[dp(48), dp(8), dp(10), dp(8)])
        tone = {True: "mint", False: "clay", None: "chalk"}[meter.holds]
        self._mark = {True: "done", False: "open", None: "owed"}[meter.holds]
        self._tone = tone
        self.add_widget(Words(text=f"{meter.name}: {meter.words}", tone=tone))
        self._draw()

    def _draw(self, *_) -> None:
        super()._draw()
        if hasattr(self, "_mark"):
            with self.canvas.before:
                draw_shape(self._mark, self.x + dp(26), self.y + self.height / 2, dp(9), self._tone)
