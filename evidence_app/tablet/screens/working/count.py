"""Counting pieces: the number as listed with one touch, another with a reason, on a photo or not."""

from functools import partial

from evidence_app.job import commands as c
from evidence_app.language import say
from evidence_app.tablet.presenting.working.count import count_shown
from evidence_app.tablet.screens.base import BaseScreen, plate
from evidence_app.tablet.widgets import Flow, Words
from evidence_app.tablet.widgets.columns import Columns

_LEAST_BESIDE = 300  # dp, the number beside what changes it


class CountScreen(BaseScreen):
    """``count`` is the number shown (None: as listed), ``photo`` the one that was taken of it."""

    def enter(self, thing: str = "", count: int | None = None, photo: str | None = None) -> None:
        super().enter()
        self._thing, self._count, self._photo = thing, count, photo

    def show(self) -> None:
        if self.job is None or self.job.state.phase != "working":
            return
        shown = count_shown(self.job.step_list, self.job.state, self._thing, self._count)
        if not self.differs(shown):
            return
        fewer = plate("−", "minus", partial(self._turn, max(0, shown.count - 1)))
        more = plate("+", "plus", partial(self._turn, shown.count + 1))
        for change in (fewer, more):
            change.role, change.halign = "value", "center"
        number = Words(text=str(shown.count), role="huge", halign="center")
        told = Words(text=shown.told, role="lead", tone="clay" if shown.differs else "brass")
        self.titled(shown.what, told, Columns(number, Flow(fewer, more), least=_LEAST_BESIDE))
        record = plate(say("Counted as listed"), "record", self._record, "main")
        if shown.differs:
            why = partial(self._ask_why, say("Why is this the number?"))
            record = plate(say("Record it with a reason"), "record", why, "main")
        tray = say("Counted on this photo") if self._photo else say("Photo of the parts tray")
        take = partial(self.frame.go, "camera", then=self._again)
        other, missing = say("Pieces of another kind"), say("A piece is missing: stop")
        stop = partial(self._ask_stop, shown.stop or "")
        self.fill_row(
            self.back_plate(self.frame.home),
            record,
            self.pictured(plate(tray, "tray", take, mark="shutter"), self._photo),
            plate(other, "other-kind", self._ask_kind, mark="pencil"),
            plate(missing, "missing", stop, "stop", "stop") if shown.stop else None,
        )

    def _turn(self, count: int) -> None:
        self._count = count
        self.show()

    def _again(self, photo: str | None = None) -> None:
        self.frame.go("count", thing=self._thing, count=self._count, photo=photo or self._photo)

    def _ask_why(self, asked: str, other: str | None = None) -> None:
        self.ask_reason("count", asked, lambda why: self._record(why, other), self._again)

    def _ask_kind(self) -> None:
        why = partial(self._ask_why, say("Why pieces of another kind?"))
        self.ask(say("Which pieces are of another kind?"), why, self._again, main=say("Go on"))

    def _ask_stop(self, reason: str) -> None:
        """The reason of the stop rule is offered; recording it is the confirmation."""
        stop = partial(self.place.do, c.StopForMissing(self._thing), self.frame.home)
        asked = say("What is missing? The stop cannot be taken back.")
        done, main = partial(self._record, then=stop), say("Stop the repair")
        self.ask_reason("missing", asked, done, self._again, (reason,), main=main)

    def _record(self, reason: str | None = None, other: str | None = None, then=None) -> None:
        shown = count_shown(self.job.step_list, self.job.state, self._thing, self._count)
        count = c.CountPieces(self._thing, shown.count, reason, other, self._photo)
        self.place.do(count, then or self.frame.onward)
