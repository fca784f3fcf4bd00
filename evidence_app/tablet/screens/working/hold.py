"""A hold: a large countdown on the job's own clock. The frame gives the signal at its end."""

from functools import partial

from kivy.metrics import dp
from kivy.uix.widget import Widget

from evidence_app.job import commands as c
from evidence_app.tablet.presenting.working.hold import hold_shown
from evidence_app.tablet.screens.base import BaseScreen, caution_panels, plate
from evidence_app.tablet.widgets import Rows, Words
from evidence_app.tablet.widgets.columns import Columns
from evidence_app.tablet.widgets.level import LevelBar
from evidence_app.tablet.widgets.sizes import sizes

_LOW = 700  # dp of height
_LEAST_BESIDE = 360  # dp, the countdown beside the cautions


class HoldScreen(BaseScreen):
    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._clock = Words(role="huge", halign="center")
        self._words = Words(role="lead", halign="center")
        self._bar = LevelBar()

    def enter(self) -> None:
        super().enter()
        self.every(0.2, self.show)

    def show(self) -> None:
        step = self.job.step if self.job else None
        if step is None or step.hold is None:
            return
        shown = hold_shown(step, self.job.state, self.job.now())
        self._clock.text, self._words.text = shown.clock, shown.words
        self._bar.fill(shown.share)
        self.frame.signal_hold()
        if not self.differs(shown.phase, shown.main, shown.applied, shown.earlier):
            return
        used = self.job.step_list.cautions
        cautions = [x for x in used if x.id in step.cautions]
        counting: list[Widget] = [self._clock, self._bar, self._words]
        if shown.earlier:
            counting.append(Words(text=shown.earlier, tone="clay"))
        about = [Words(text=shown.applied, role="title"), Words(text=shown.limits, tone="brass")]
        panels = caution_panels(cautions)
        if self.frame.height < dp(_LOW) * sizes.percent / 100:
            # Nothing has to be scrolled to where the window is low: the countdown first, the cautions
            # beside it.
            self.page.refill([Columns(Rows(*counting, *about), *panels, least=_LEAST_BESIDE)])
        else:
            self.page.refill([*about, *counting, *panels])
        action, words = shown.main
        calls = {"start": partial(self.place.do, c.StartHold()), "step": self.door("step")}
        kind = "stop" if action == "release" else "main"
        if action != "step":
            words = self.phrased(words, "start-hold" if action == "start" else "end-hold")
        running = shown.phase in ("running", "over", "late")
        self.fill_row(
            None if running else self.back_plate(self.door("step")),
            plate(words, action, calls.get(action, self._end), kind),
        )

    def _end(self) -> None:
        self.place.do(c.EndHold(), self.frame.onward)
