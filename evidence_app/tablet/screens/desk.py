"""The door to the desk's screens for the clerk and the supervisor."""

from __future__ import annotations

from evidence_app.tablet.presenting.words import say
from evidence_app.tablet.screens.base import BaseScreen, plate
from evidence_app.tablet.widgets import Words


class DeskScreen(BaseScreen):
    def show(self) -> None:
        if self.differs():
            self.page.refill([
                Words(text=say("The desk"), role="title"),
                Words(text=say("Packages are received, checked and reviewed at the desk's own "
                               "computer. This tablet has no desk set up.")),
            ])
            self.fill_row(plate(say("Back"), "back", lambda: self.frame.go("start"), mark="back"))
