"""The finding in words beside the photos it is about, and what the step list's rule makes of each."""

from functools import partial

from kivy.uix.boxlayout import BoxLayout

from evidence_app.job import commands as c
from evidence_app.language import say
from evidence_app.photo.card.seen import laid_over
from evidence_app.tablet.presenting.working.photo import finding_asked
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.screens.working.beside import PictureScreen
from evidence_app.tablet.widgets import Plate, Words
from evidence_app.tablet.widgets.pair import PhotoPair


class FindingScreen(PictureScreen):
    """A finding that stops the repair is asked a second time. A photo is compared with its clean
    reference and with the take before, ``_way`` of its ways at a time."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self._pair, self._told = PhotoPair(), Words(role="small", padding=[8, 4])
        self.pane = self._pair.first
        whole = BoxLayout(orientation="vertical")
        for each in (self._pair, self._told):
            whole.add_widget(each)
        self.put_beside(whole, 0.42, 1.2)

    def enter(self) -> None:
        """The photo that has a clean reference is looked at first."""
        self._filled, self._sure, self._measured, self._at, self._way = None, None, "", 0, 0
        photos = finding_asked(self.job.step_list, self.job.state).photos
        self.turn()
        self._look(next((at for at, photo in enumerate(photos) if photo.ways[0]), 0))

    def leave(self) -> None:
        self._pair.clear()

    def show(self) -> None:
        step = self.job.step if self.job else None
        if step is None or step.checkpoint is None or self.job.state.phase != "working":
            return
        asked = finding_asked(self.job.step_list, self.job.state)
        if not self.differs(asked, self._sure, self._at, self._way, self._measured):
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
        zoom = self.zoom_plates(self.pane) if asked.photos else ()
        self.fill_row(
            back, self._way_plate(asked.photos), *zoom, self.note_plate(), chosen=choices if cramped else ()
        )

    def _photo_plates(self, photos) -> list[Plate]:
        """One for each photo where there are several."""
        made = []
        for at, photo in enumerate(photos if len(photos) > 1 else ()):
            kind = "plain" if at == self._at else "row"
            look = plate(photo.framing, f"look {at}", partial(self._look, at), kind)
            made.append(self.pictured(look, photo.photo))
        return made

    def _way_plate(self, photos) -> Plate | None:
        """To the next way of looking at this photo, if there is another."""
        ways = photos[self._at].ways if photos else ()
        if len(ways) < 2:
            return None
        following = (self._way + 1) % len(ways)
        words = ways[following].words if ways[following] else say("This photo alone")

        def turn() -> None:
            self._way = following
            self._compare()

        return plate(words, "compare", turn, mark="divider")

    def _look(self, at: int) -> None:
        """Show the photo at ``at``, as its first way is."""
        self._at, self._way = at, 0
        self._pair.clear()
        photos = finding_asked(self.job.step_list, self.job.state).photos
        if photos:
            self.load(self.pane, photos[at].photo, reduced=True)
        self._compare()

    def _compare(self) -> None:
        """Show what the photo is compared with, and below what was measured."""
        photos = finding_asked(self.job.step_list, self.job.state).photos
        self._pair.second.clear()
        if photos:
            shown = photos[self._at]
            self._measured, way = shown.told, shown.ways[self._way]
            self._pair.names = [say("Now"), way.name] if way else []
            self._pair.over = way is not None and not way.beside
            if way is not None:
                self.make(partial(self._other, shown.photo, way), partial(self._put, (self._at, self._way)))
        self.show()

    def _other(self, photo: str, way):
        """The picture of ``way``, and whether the card told how it lies over the ``photo``."""
        other = self.decoded(way.photo, reduced=True)
        laid = None if way.beside else laid_over(self.decoded(photo, reduced=True), other)
        return other if laid is None else laid, laid is not None

    def _put(self, at: tuple[int, int], made) -> None:
        if at != (self._at, self._way):
            return
        picture, by_card = made
        self._pair.second.show(picture)
        if self._pair.over:
            told = say("The scale card is not whole in both photos: the pictures may not meet.")
            if by_card:
                told = say(
                    "Laid over it by the scale card; where that lay elsewhere, the pictures do not meet."
                )
            self._measured = f"{told} {self._measured}".strip()
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
