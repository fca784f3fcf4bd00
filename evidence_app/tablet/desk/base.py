"""What every screen of the desk has besides what the tablet's have: its head, entering texts."""

from __future__ import annotations

from evidence_app.desk.register import default_path
from evidence_app.language import say
from evidence_app.tablet.screens.base import BaseScreen


class DeskBase(BaseScreen):
    """``head`` is what stands at the top of the window instead of the job's step."""

    @property
    def desk(self):
        return self.place.desk

    def leave(self) -> None:
        """What was told about this screen's work is not carried to the next."""
        for key in ("printed", "exported", "cancelled"):
            self.place.notices.pop(key, None)

    def head(self) -> tuple[str, str, str]:
        checking = self.desk.checking
        busy = (
            say("Checking {number} of {count}", number=checking.number, count=checking.count)
            if checking is not None
            else say("Nothing is being checked")
        )
        register = self.desk.register.path
        kept = (
            say("This computer's own register")
            if register == default_path()
            else say("Register: {name}", name=register.name)
        )
        return say("The desk"), busy, kept

    def ask(self, asked: str, done, back: str, **given) -> None:
        """Have a text entered; ``done(text)`` is called and this screen shown again."""

        def entered(text: str, _by: str) -> None:
            self.frame.go(back)
            done(text)

        self.frame.go("entry", asked=asked, done=entered, back=lambda: self.frame.go(back), **given)
