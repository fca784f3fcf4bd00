"""Stopping the repair, and what a stopped repair still asks for."""

from evidence_app.job import commands as c
from evidence_app.language import say
from evidence_app.tablet.presenting.working.standing import role_words
from evidence_app.tablet.presenting.working.stop import stop_shown
from evidence_app.tablet.screens.base import BaseScreen, plate, task_plate
from evidence_app.tablet.widgets import Panel, Words


class StopScreen(BaseScreen):
    """``asking``: the technician wants to stop or leave, and is asked which."""

    def enter(self, asking: bool = False) -> None:
        super().enter()
        self._asking = asking

    def show(self) -> None:
        if self.job is None:
            return
        if self.job.state.phase == "stopped":
            self._show_stopped()
        elif self._asking and self.differs("asking"):
            self.page.refill(
                [
                    Words(text=say("Stop or pause?"), role="title"),
                    plate(
                        say("Pause the job\nYou resume at this step."),
                        "leave",
                        lambda: self.place.put_down(lambda: self.frame.go("start")),
                        mark="next",
                    ),
                    plate(
                        self.phrased(
                            say("Stop the repair\nFor a reason of your own. It cannot be taken back."),
                            "stop-repair",
                        ),
                        "stop-repair",
                        self._ask_stop,
                        "stop",
                        "stop",
                    ),
                    plate(
                        say("Abandon the job\nIt ends without a result, with a stated reason."),
                        "abandon",
                        self._ask_abandon,
                        "plain",
                        "open",
                    ),
                ]
            )
            self.fill_row(plate(say("Back to the step"), "back", self.frame.home, mark="back"))

    def _ask_stop(self) -> None:
        self._ask(say("Why is the repair stopped?"), say("Stop the repair"), c.StopRepair)

    def _ask_abandon(self) -> None:
        self._ask(say("Why is the job abandoned?"), say("Abandon the job"), c.Abandon)

    def _ask(self, asked: str, main: str, command: type[c.Command]) -> None:
        def done(text: str, _by: str) -> None:
            self.place.do(command(text), self.frame.home)

        self.frame.go("entry", asked=asked, main=main, back=self.frame.home, done=done)

    def _show_stopped(self) -> None:
        shown = stop_shown(self.job.step_list, self.job.state)
        if not self.differs(shown):
            return
        head = Panel(face="clay")
        head.add_widget(Words(text=say("The repair is stopped {by}", by=shown.by), role="lead", tone="ink"))
        head.add_widget(Words(text=shown.reason, tone="ink"))
        what = Panel(border="brass")
        what.add_widget(Words(text=say("What is to be done with the unit"), tone="brass"))
        what.add_widget(Words(text=shown.disposition, role="title"))
        widgets = [head, what]
        if shown.prohibitions:
            forbidden = Panel(border="clay")
            forbidden.add_widget(Words(text=say("Prohibited"), tone="clay"))
            for prohibition in shown.prohibitions:
                forbidden.add_widget(Words(text=prohibition, role="lead"))
            widgets.append(forbidden)
        widgets += [task_plate(t, lambda t=t: self._do(t.action)) for t in shown.tasks]
        self.page.refill(widgets)
        action, words = shown.main
        self.fill_row(
            plate(words, "main", lambda: self._do(action), "main"),
            plate(say("Note"), "note", lambda: self.frame.go("note"), mark="note"),
            plate(say("Entries"), "lookback", lambda: self.frame.go("lookback"), mark="trail"),
            plate(
                say("Pause the job"),
                "leave",
                lambda: self.place.put_down(lambda: self.frame.go("start")),
                mark="back",
            ),
        )

    def _do(self, action: str) -> None:
        kind, _, name = action.partition(" ")
        if kind == "photo":
            taken = self.job.state.photo_of_reason(name)
            self.frame.go("photo" if taken is not None else "camera", wanted=name)
        elif kind == "note":
            self.frame.go("note")
        elif kind == "close":
            self.frame.go("finish")
        elif kind == "name":
            self.frame.go(
                "entry",
                asked=say("Name of the {role}", role=role_words(name)),
                done=lambda text, _by: self.place.do(c.GiveName(name, text), self.frame.home),
                back=self.frame.home,
            )
