"""The live picture with its framing outline, the gate's live meters, one large shutter."""

from functools import partial

import cv2
import numpy as np
from kivy.metrics import dp
from kivy.uix.widget import Widget

from evidence_app.job import commands as c
from evidence_app.job.rules.route import wanted_here
from evidence_app.job.vocabulary import Purpose
from evidence_app.language import say
from evidence_app.sentence import sentences_beside
from evidence_app.tablet.presenting import notices
from evidence_app.tablet.presenting.working.photo import camera_shown, meters, serves
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.screens.working.beside import PictureScreen
from evidence_app.tablet.widgets import Panel, Plate, Words
from evidence_app.tablet.widgets.marked import MarkedWords
from evidence_app.tablet.widgets.picture import LivePicture

_WORDS = sentences_beside(__file__)
_SHUTTER, _CONTROLS = _WORDS["shutter"], _WORDS["controls"]
_PICTURES_S = 1 / 25
_METERS_S = 0.5


class CameraScreen(PictureScreen):
    """Beside the picture are its meters."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self.live = LivePicture()
        self.put_beside(self.live, 0.3, 0.6)

    def enter(self, wanted: str | None = None, after: str | None = None, then=None) -> None:
        """``after``: the photo before, which passed just now; ``then`` takes a photo that is added
        for it, and is the way back."""
        self._filled = None
        self._wanted, self._busy, self._after, self._then = wanted, False, after, then
        self._pictured, self._shown_as = False, ""
        self.turn()
        self.place.sensing.start_camera(wanted, self.place.refused)
        self.every(_PICTURES_S, self._picture)
        self.every(_METERS_S, self._meters)

    def leave(self) -> None:
        super().leave()
        self.place.sensing.end_camera()

    def show(self) -> None:
        job = self.job
        if job is None:
            return
        state = job.state
        wanted = wanted_here(job.step_list, state, self._wanted)
        earlier = state.photo_here(self._wanted or "")
        shown = camera_shown(wanted, earlier)
        stands = self._stands()
        seen = self.place.sensing.seen if stands != "lost" else None
        found = meters(seen, shown.card, shown.aimed) if stands != "lost" else ()
        aim = seen.aim if seen and shown.aimed else None
        self.live.ring(aim and aim.at, bool(aim and aim.holds))
        camera = self.place.sensing.camera
        offers, chosen = (camera.offers, camera.chosen) if camera and stands != "lost" else ({}, {})
        if not self.differs(shown, found, self._busy, stands, dict(chosen), tuple(offers)):
            return
        widgets: list[Widget] = [Words(text=shown.framing, role="title")]
        self.live.grey = stands == "lost" and not self._busy
        if self.live.grey:
            words = say("The camera is lost. This is the last picture that it gave.")
            widgets.insert(0, Words(text=words, role="lead", tone="clay"))
        if self._after:
            words = say("The photo before is safe and passes every check.")
            widgets.append(MarkedWords(text=words, tone="mint", mark="done"))
        if shown.retake:
            widgets.append(Words(text=shown.retake, role="small"))
        widgets += [_meter(meter) for meter in found]
        if stands == "ready" and not offers:
            widgets.append(
                Words(text=say("This camera offers neither focus nor exposure to be set."), role="small")
            )
        self.side.refill(widgets)
        there = not self._busy and stands in ("ready", "arrived")
        words = say("Storing the photo …") if self._busy else say(_SHUTTER[stands])
        words = self.phrased(words, "photo") if stands == "ready" and not self._busy else words
        shutter = plate(words, "shutter", self._take, "main" if there else "row", "shutter")
        shutter.disabled = not there
        before = None
        if self._after and not self._busy:
            look = partial(self.frame.go, "photo", wanted=self._after)
            before = plate(say("Look at the photo before"), "photo-before", look, mark="glass")
        set_here = [self._control(name, *offers[name]) for name in offers]
        self.fill_row(self.back_plate(self._then or self.frame.home), before, *set_here, shutter)

    def _control(self, name: str, *values: str) -> Plate:
        """A touch sets the value after the present one, and after the last the first."""
        chosen = self.place.sensing.camera.chosen
        now = chosen.get(name, values[0])

        def turn() -> None:
            chosen[name] = values[(values.index(now) + 1) % len(values)]
            self.show()

        return plate(f"{say(_CONTROLS[name])}\n{say(_CONTROLS[now])}", f"set {name}", turn, mark="light")

    def _stands(self) -> str:
        """How the camera stands: "waits" for its first picture, "ready", "lost", or "arrived":
        a folder has a photo that was not taken over yet."""
        camera = self.place.sensing.camera
        if camera is None:
            return "waits"
        by_folder = hasattr(camera, "waiting")
        if not camera.status().present:
            return "lost" if self._pictured else "waits"
        if by_folder and camera.waiting:
            return "arrived"
        return "ready" if by_folder or camera.latest() is not None else "waits"

    def _picture(self) -> None:
        """While a photo is stored the picture stands still, on what was taken."""
        camera = self.place.sensing.camera
        frame = camera.latest() if camera is not None and not self._busy else None
        if frame is not None:
            self.live.show(frame)
            self._pictured = True
        if self._shown_as != self._stands():
            self._shown_as = self._stands()
            self.show()

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
        wanted, visit, job = self._wanted, self.frame.visit, self.job
        at = (job.state.phase, job.state.step)

        def here() -> bool:
            return self.frame.visit == visit

        def taken(shot) -> None:
            if self.job is not job or (job.state.phase, job.state.step) != at:
                self.place.tell(notices.told("too-late"))
                return
            if here():
                self._freeze(shot.data)
            purpose: Purpose = "stop-reason" if job.state.phase == "stopped" else "checkpoint"
            command = c.TakePhoto(shot.data, wanted, purpose if wanted else "note", shot.source)
            self.place.do(command, stored, not_taken)

        def stored() -> None:
            if here():
                self._busy = False
                if self._then is not None:
                    self._then(job.state.photos[-1].sha256)
                elif wanted and serves(job.state.photos[-1]):
                    self.frame.onward(after=wanted)
                else:
                    self.frame.go("photo", wanted=wanted)
            else:
                self._offer(job.state.photos[-1].sha256)

        def not_taken(error) -> None:
            self._busy = self._busy and not here()
            self.place.refused(error)

        self.place.sensing.take(taken, not_taken)

    def _freeze(self, data: bytes) -> None:
        def still():
            return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_REDUCED_COLOR_2)

        def decoded(frame) -> None:
            if frame is not None and self._busy:
                self.live.show(frame)

        self.place.worker.run(still, decoded, thread="camera")

    def _offer(self, sha256: str) -> None:
        """A photo whose screen was left before it was stored jumps before nobody's eyes."""

        def look() -> None:
            self.place.dismiss(notices.LATE)
            self.frame.go("photo", sha256=sha256, back="home")

        self.place.actions[notices.LATE] = look
        self.place.tell(notices.told(notices.LATE))


def _meter(meter) -> Panel:
    tone, mark = {True: ("mint", "done"), False: ("clay", "open"), None: ("chalk", "owed")}[meter.holds]
    words = MarkedWords(text=f"{meter.name}: {meter.words}", tone=tone, mark=mark)
    return Panel(words, padding=[dp(12), dp(8), dp(10), dp(8)])
