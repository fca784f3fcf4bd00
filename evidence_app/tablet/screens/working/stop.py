"""Stopping the repair, and what a stopped repair still asks for."""

from functools import partial

from evidence_app.job import commands as c
from evidence_app.language import say
from evidence_app.tablet.presenting.working.standing import role_words
from evidence_app.tablet.presenting.working.stop import stop_shown
from evidence_app.tablet.screens.base import BaseScreen, caution_panels, plate
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
            stop = say("Stop the repair\nFor a reason of your own. It cannot be taken back.")
            stop = self.phrased(stop, "stop-repair")
            abandon = say("Abandon the job\nIt ends without a result, with a stated reason.")
            why, main = say("Why is the job abandoned?"), say("Abandon the job")
            ask = partial(self._ask, "abandon", why, main, c.Abandon)
            self.titled(
                say("Stop or pause?"),
                plate(say("Pause the job\nYou resume at this step."), "leave", self.pause, mark="next"),
                plate(stop, "stop-repair", self._ask_stop, "stop", "stop"),
                plate(abandon, "abandon", ask, mark="open"),
            )
            self.fill_row(plate(say("Back to the step"), "back", self.frame.home, mark="back"))

    def _ask_stop(self) -> None:
        """The reasons are those for which the step list itself stops."""
        steps = self.job.step_list
        listed = tuple(rule.reason for rule in steps.stop_rules if rule.id != steps.stop_by_technician)
        self._ask("stop", say("Why is the repair stopped?"), say("Stop the repair"), c.StopRepair, listed)

    def _ask(
        self, what: str, asked: str, main: str, command: type[c.Command], listed: tuple[str, ...] = ()
    ) -> None:
        home = self.frame.home
        self.ask_reason(
            what, asked, lambda text: self.place.do(command(text), home), home, listed, main=main
        )

    def _show_stopped(self) -> None:
        shown = stop_shown(self.job.step_list, self.job.state)
        if not self.differs(shown):
            return
        widgets = [
            Panel(
                Words(text=say("The repair is stopped {by}", by=shown.by), role="lead", tone="ink"),
                Words(text=shown.reason, tone="ink"),
                face="clay",
            ),
            Panel(
                Words(text=say("What is to be done with the unit"), tone="brass"),
                Words(text=shown.disposition, role="title"),
                border="brass",
            ),
        ]
        if shown.prohibitions:
            forbidden = [Words(text=prohibition, role="lead") for prohibition in shown.prohibitions]
            widgets.append(Panel(Words(text=say("Prohibited"), tone="clay"), *forbidden, border="clay"))
        if shown.cautions:
            widgets.append(Words(text=say("These cautions still hold"), role="lead", tone="brass"))
            widgets += caution_panels(shown.cautions)
        self.page.refill([*widgets, *self.task_plates(shown.tasks)])
        action, words = shown.main
        self.fill_row(
            plate(words, "main", partial(self.go_to, action), "main"),
            self.note_plate(),
            self.entries_plate(),
            self.pause_plate(),
        )

    def go_to(self, action: str) -> None:
        kind, _, name = action.partition(" ")
        if kind == "name":
            asked, home = say("Name of the {role}", role=role_words(name)), self.frame.home
            self.ask(asked, lambda text: self.place.do(c.GiveName(name, text), home), home)
        else:
            super().go_to("finish" if kind == "close" else action)
