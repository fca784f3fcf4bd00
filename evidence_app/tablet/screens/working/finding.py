"""The finding in words beside the photos it is about, and what the step list's rule makes of each."""

from functools import partial

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout

from evidence_app.job import commands as c
from evidence_app.language import say
from evidence_app.tablet.presenting.working.photo import finding_asked
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.screens.working.beside import PictureScreen
from evidence_app.tablet.widgets import Plate, Words
from evidence_app.tablet.widgets.picture import PhotoPane


class FindingScreen(PictureScreen):
    """A finding that stops the repair is asked a second time. A photo with a clean reference
    stands beside that."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self.pane, self._second = PhotoPane(), PhotoPane()
        self._told = Words(role="small", padding=[8, 4])
        both, whole = BoxLayout(spacing=dp(4)), BoxLayout(orientation="vertical")
        for inner, outer in ((self.pane, both), (self._second, both), (both, whole), (self._told, whole)):
            outer.add_widget(inner)
        self.put_beside(whole, 0.42, 1.2)

    def enter(self) -> None:
        """The photo that has a clean reference is looked at first."""
        self._filled, self._sure, self._measured = None, None, ""
        photos = finding_asked(self.job.step_list, self.job.state).photos
        self.turn()
        self._look(next((at for at, photo in enumerate(photos) if photo.reference), 0))

    def leave(self) -> None:
        for pane in (self.pane, self._second):
            pane.clear()

    def show(self) -> None:
        step = self.job.step if self.job else None
        if step is None or step.checkpoint is None or self.job.state.phase != "working":
            return
        asked = finding_asked(self.job.step_list, self.job.state)
        if not self.differs(asked, self._sure, self._at):
            return
        back = self.back_plate(self._back)
        if self._sure is not None:
            self.side.refill(
                [
                    Words(text=say("Finding: {finding}", finding=self._sure.words), role="title"),
                    Words(text=self._sure.leads_to, role="lead", tone="clay"),
                    Words(text=say("A stop cannot be taken back.")),
                ]
            )
            give = partial(self._give, self._sure)
            self.fill_row(back, plate(say("Stop the repair"), "confirm-stop", give, "stop", "stop"))
            return
        # Where it is cramped each choice is a word below, in reach without scrolling, and what was
        # measured leaves its place to the photos.
        cramped, choices = self.cramped, []
        told = [Words(text=self._measured)] if cramped else []
        self._told.text = "" if cramped else self._measured
        for x in asked.choices:
            leads_to = say("Stops the repair; you are asked once more.") if x.stops else x.leads_to
            words = x.words if cramped else f"{x.words}\n{leads_to}"
            if cramped:
                told.append(Words(text=f"{x.words}: {leads_to}"))
            kind, mark = ("stop", "stop") if x.stops else ("plain", "next")
            call = partial(self._chosen, x)
            choices.append(plate(self.phrased(words, x.finding), f"finding {x.finding}", call, kind, mark))
        listed = told if cramped else choices
        self.side.refill(
            [Words(text=asked.question, role="lead"), *listed, *self._photo_plates(asked.photos)]
        )
        zoom = self.zoom_plates(self.pane, self._second) if asked.photos else ()
        self.fill_row(back, *zoom, self.note_plate(), chosen=choices if cramped else ())

    def _photo_plates(self, photos) -> list[Plate]:
        """One for each photo where there are several."""
        made = []
        for at, photo in enumerate(photos if len(photos) > 1 else ()):
            kind = "plain" if at == self._at else "row"
            look = plate(photo.framing, f"look {at}", partial(self._look, at), kind)
            made.append(self.pictured(look, photo.photo))
        return made

    def _look(self, at: int) -> None:
        """Show the photo at ``at``, its clean reference beside it and what was measured below."""
        self._at = at
        photos = finding_asked(self.job.step_list, self.job.state).photos
        if photos:
            shown = photos[at]
            self._second.size_hint_x = 1 if shown.reference else 0
            beside = say("Left: now. Right: the clean reference.") if shown.reference else ""
            self._measured = f"{beside} {shown.told}".strip()
            self.load(self.pane, shown.photo, reduced=True)
            if shown.reference:
                self.load(self._second, shown.reference, reduced=True)
        self.show()

    def _chosen(self, choice) -> None:
        if choice.stops:
            self._sure = choice
            self.show()
        else:
            self._give(choice)

    def _give(self, choice) -> None:
        """Where it leads on and nothing else is required here, that happens: the plate said so."""

        def given() -> None:
            onward = choice.goes_on and not self.job.owed
            self.place.do(c.GoOn(), self.frame.home) if onward else self.frame.home()

        self.place.do(c.GiveFinding(choice.finding), given)

    def _back(self) -> None:
        if self._sure is not None:
            self._sure = None
            self.show()
        else:
            self.frame.go("step")
