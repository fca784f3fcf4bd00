"""One step: its cautions, its instruction, what it asks for, and the one thing to do next."""

from functools import partial

from kivy.metrics import dp
from kivy.uix.widget import Widget

from evidence_app.job import commands as c
from evidence_app.job.vocabulary import EnteredBy
from evidence_app.language import say
from evidence_app.steplist.model import StepPicture
from evidence_app.steplist.pictures import STEP_LIST
from evidence_app.tablet.presenting.working.reading import typed
from evidence_app.tablet.presenting.working.step import step_shown
from evidence_app.tablet.screens.base import BaseScreen, caution_panels, plate
from evidence_app.tablet.widgets import Panel, Plate, Rows, Words
from evidence_app.tablet.widgets.columns import Columns
from evidence_app.tablet.widgets.thumbnail import PicturePlate, put_picture


class StepScreen(BaseScreen):
    """``_alone`` is the picture that fills the page after a touch, or None."""

    _alone: StepPicture | None = None

    def leave(self) -> None:
        super().leave()
        self._alone = None

    def show(self) -> None:
        job = self.job
        if job is None or job.state.phase != "working":
            return
        entered = next((e for e in reversed(job.record.events) if e.kind == "step-entered"), None)
        shown = step_shown(job.step_list, job.state, entered, job.ready)
        new_step = self._filled is None or self._filled[0].title != shown.title
        if not self.differs(shown, self._alone):
            return
        if self._alone is not None:
            self.page.refill([self._drawn(self._alone)])
            self.fill_row(self.back_plate(self.frame.home))
            return
        widgets = caution_panels(shown.cautions)
        head: list[Widget] = [Words(text=shown.title, role="lead", tone="brass")]
        if shown.why:
            head.append(Panel(Words(text=shown.why), border="haze"))
        asks = [
            Words(text=shown.instruction, role="title"),
            *self.task_plates(shown.tasks),
            Words(text=shown.ahead, role="small"),
        ]
        if job.step.pictures:
            head += map(self._drawn, job.step.pictures)
            widgets.append(Columns(Rows(*head, size_hint_x=0.8), Rows(*asks), least=400))
        else:
            widgets += [*head, *asks]
        self.page.refill(widgets)
        if new_step:
            self.page.scroll_y = 1
        action, words = shown.main
        if action == "next":
            words = self.phrased(words, "next")
        elif action.startswith("photo ") and any(t.state == "next" for t in shown.tasks):
            words = self.phrased(words, "photo")
        back = self.phrased(say("Previous step"), "back")
        previous = plate(back, "previous", partial(self.place.do, c.GoBack()), mark="back")
        stop = self.phrased(say("Stop or pause"), "stop-repair")
        self.fill_row(
            previous if shown.can_go_back else None,
            plate(words, "next" if action == "next" else "main", partial(self.go_to, action), "main"),
            self.note_plate(),
            self.entries_plate(),
            plate(stop, "stop", partial(self.frame.go, "stop", asking=True), mark="stop"),
        )

    def go_to(self, action: str) -> None:
        kind, _, name = action.partition(" ")
        if kind == "next":
            self.place.do(c.GoOn())
        elif kind == "reading":
            self.enter_reading(name)
        elif kind == "count":
            self.frame.go("count", thing=name)
        elif kind == "as-listed":
            listed = next(each.listed for each in self.job.step.counts if each.thing == name)
            self.place.do(c.CountPieces(name, listed), self.frame.onward)
        else:
            super().go_to(action)

    def enter_reading(self, name: str) -> None:
        reading = next(r for r in self.job.step.readings if r.id == name)

        def done(value: str, by: EnteredBy) -> None:
            enter = c.EnterReading(name, value, by, confirm_outside=True)
            if typed(reading, value, self.job.state.opened.device.serial).state == "other":
                self._ask_why(enter)
            else:
                self.place.do(enter, self.frame.onward)

        self.frame.go("entry", asked=reading.name, reading=reading, done=done, back=self.door("step"))

    def _ask_why(self, enter: c.EnterReading) -> None:
        """The serial number of another unit is recorded after its reason."""

        def done(reason: str) -> None:
            job = self.job.state.opened.device.serial
            note = say("Serial number read: {read}, not {job}", read=enter.value, job=job)
            self.place.do(c.WriteNote(f"{note}. {reason}"), lambda: self.place.do(enter, self.frame.onward))

        asked = say("Why is this serial number recorded, although the job is for another unit?")
        self.ask_reason("serial", asked, done, self.door("step"))

    def _drawn(self, picture: StepPicture) -> Plate:
        """A picture of the step; touched, it fills the page or goes back to its place."""
        whole = self._alone is not None

        def most(width: float) -> float:
            """The rest of the page stays in view: less high where nothing is beside it."""
            across, high = self.frame.size
            return self.page.height - dp(32) if whole else high * (0.3 if width > across * 0.6 else 0.5)

        def touched() -> None:
            self._alone = picture
            self.show()

        action = "whole" if whole else f"picture {picture.file}"
        drawn = PicturePlate(most, action=action, call=self.frame.home if whole else touched)
        kept = self.job.record.derived
        put_picture(self.place.worker, drawn, picture, lambda: kept(picture.sha256, STEP_LIST))
        return drawn
