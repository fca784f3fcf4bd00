"""The finding in words, and what the step list's rule makes of each."""

from evidence_app.job import commands as c
from evidence_app.language import say
from evidence_app.tablet.presenting.working.photo import finding_asked
from evidence_app.tablet.screens.base import BaseScreen, plate
from evidence_app.tablet.widgets import Plate, Words


class FindingScreen(BaseScreen):
    """A finding that stops the repair is asked a second time."""

    def enter(self) -> None:
        super().enter()
        self._sure = None

    def show(self) -> None:
        step = self.job.step if self.job else None
        if step is None or step.checkpoint is None or self.job.state.phase != "working":
            return
        asked = finding_asked(self.job.step_list, self.job.state)
        if not self.differs(asked, self._sure):
            return
        back = plate(say("Back"), "back", self._back, mark="back")
        if self._sure is not None:
            self.page.refill(
                [
                    Words(text=say("Finding: {finding}", finding=self._sure.words), role="title"),
                    Words(text=self._sure.leads_to, role="lead", tone="clay"),
                    Words(text=say("A stop cannot be taken back.")),
                ]
            )
            self.fill_row(
                back,
                plate(
                    say("Stop the repair"), "confirm-stop", lambda: self._give(self._sure), "stop", "stop"
                ),
            )
            return
        head = say("Finding")
        choices = [
            Plate(
                text=self.phrased(f"{head}: {x.words}\n{x.leads_to}", x.finding),
                action=f"finding {x.finding}",
                role="lead",
                kind="stop" if x.stops else "plain",
                mark="stop" if x.stops else "next",
                call=lambda x=x: self._chosen(x),
            )
            for x in asked.choices
        ]
        self.page.refill([Words(text=asked.question, role="title"), *choices])
        self.fill_row(back)

    def _chosen(self, choice) -> None:
        if choice.stops:
            self._sure = choice
            self.show()
        else:
            self._give(choice)

    def _give(self, choice) -> None:
        self.place.do(c.GiveFinding(choice.finding), self.frame.home)

    def _back(self) -> None:
        if self._sure is not None:
            self._sure = None
            self.show()
        else:
            self.frame.go("step")
