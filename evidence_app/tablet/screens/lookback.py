"""Look back: every entry of the job; a photo opened, a note played, an entry corrected."""

from __future__ import annotations

from evidence_app.job import commands as c
from evidence_app.tablet.presenting.lookback import detail, lines
from evidence_app.tablet.presenting.words import say
from evidence_app.tablet.screens.base import BaseScreen, plate
from evidence_app.tablet.widgets import Plate, Words

_A_PAGE = 12


class LookBackScreen(BaseScreen):
    """Newest entries first, twelve at a time; ``_open`` is the entry looked at."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._from = 0
        self._open = None
        self._sound = None

    def enter(self) -> None:
        super().enter()

    def leave(self) -> None:
        if self._sound is not None:
            self._sound.stop()

    def show(self) -> None:
        if self.job is None:
            return
        events = self.job.record.events
        if not self.differs(len(events), self._from, self._open):
            return
        if self._open is not None:
            self._show_entry(events)
            return
        shown = list(reversed(lines(self.job.step_list, events)))
        self._from = max(0, min(self._from, len(shown) - 1) // _A_PAGE * _A_PAGE)
        page = shown[self._from : self._from + _A_PAGE]
        self.page.refill([
            Words(text=say("Look back"), role="title"),
            Words(text=say("Nothing here can be changed. A correction is a new entry that points "
                           "at the old one."), role="small"),
            *(Plate(text=f"{x.head}\n{x.words}", kind="row", action=f"entry {x.sequence}",
                    call=lambda x=x: self._look(x.sequence)) for x in page),
        ])
        earlier = self._from + _A_PAGE < len(shown)
        self.fill_row(
            plate(say("Back"), "back", self._leave, mark="back"),
            plate(say("Later entries"), "later", lambda: self._turn(-_A_PAGE))
            if self._from else None,
            plate(say("Earlier entries"), "earlier", lambda: self._turn(_A_PAGE))
            if earlier else None)

    def _leave(self) -> None:
        self._from = 0
        self.frame.home()

    def _turn(self, by: int) -> None:
        self._from += by
        self.page.scroll_y = 1
        self.show()

    def _look(self, sequence: int | None) -> None:
        self._open = sequence
        self.page.scroll_y = 1
        self.show()

    def _show_entry(self, events) -> None:
        shown = detail(self.job.step_list, events, self._open)
        widgets = [Words(text=shown.line.head, tone="brass"),
                   Words(text=shown.line.words, role="title")]
        widgets += [Words(text=text) for text in shown.more]
        self.page.refill(widgets)
        closed = self.job.state.phase == "closed"
        self.fill_row(
            plate(say("Back"), "back", lambda: self._look(None), mark="back"),
            plate(say("Open the photo"), "open-photo",
                  lambda: self.frame.go("photo", sha256=shown.photo), "main", "shutter")
            if shown.photo else None,
            plate(say("Play the note"), "play", lambda: self._play(shown.audio), "main", "note")
            if shown.audio else None,
            None if closed else plate(say("Add a correction"), "correct", self._correct))

    def _correct(self) -> None:
        of = self._open
        self.frame.go(
            "entry", asked=say("What is wrong with entry {number}, and what is right?", number=of),
            done=lambda text, _by: self.place.do(c.Correct(of, text),
                                                 lambda: self.frame.go("lookback")),
            back=lambda: self.frame.go("lookback"))

    def _play(self, sha256: str) -> None:
        from kivy.core.audio import SoundLoader

        if self._sound is not None:
            self._sound.stop()
        self._sound = SoundLoader.load(str(self.job.record.path_of(sha256)))
        if self._sound is not None:
            self._sound.play()
