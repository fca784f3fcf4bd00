"""The photo at full detail, the gate's sentences, the measurement and its drawing."""

from evidence_app.job import commands as c
from evidence_app.job.rules.route import wanted_here
from evidence_app.language import say
from evidence_app.tablet.presenting.working.photo import photo_shown
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.screens.working.beside import PictureScreen
from evidence_app.tablet.widgets import Panel, Words
from evidence_app.tablet.widgets.marked import MarkedWords
from evidence_app.tablet.widgets.picture import PhotoPane


class PhotoScreen(PictureScreen):
    """Shows the newest photo of ``wanted``, or the photo ``sha256`` from Look back."""

    def __init__(self, frame, **given) -> None:
        super().__init__(frame, **given)
        self.pane = PhotoPane()
        self.put_beside(self.pane, 0.33, 0.8)

    def enter(self, wanted: str | None = None, sha256: str | None = None, back: str = "lookback") -> None:
        self._filled, self._wanted, self._sha, self._drawing = None, wanted, sha256, False
        self._looking_back = sha256 is not None
        self._back = self.frame.home if back == "home" else lambda: self.frame.go(back)
        self.turn()
        self._load()

    def leave(self) -> None:
        self.pane.clear()

    def _photo(self):
        state = self.job.state
        if self._sha is not None:
            return state.photo(self._sha)
        if self._wanted is None:
            return next((p for p in reversed(state.photos) if p.purpose == "note"), None)
        return state.photo_here(self._wanted)

    def show(self) -> None:
        photo = self._photo() if self.job else None
        if photo is None:
            return
        wanted = wanted_here(self.job.step_list, self.job.state, photo.wanted)
        shown = photo_shown(wanted.framing if wanted else "", photo)
        if not self.differs(shown, self._drawing):
            return
        verdict = Words(text=shown.verdict, role="lead")
        widgets = [Panel(verdict, border="mint" if shown.passes else "clay")]
        if shown.framing:
            widgets.append(Words(text=shown.framing, role="small"))
        if shown.measurement is not None:
            words, told = shown.measurement
            widgets.append(Words(text=say("Measurement: {words}", words=words), role="lead", tone="brass"))
            widgets.append(Words(text=told))
        for holds, words in shown.checks:
            tone, mark = ("chalk", "done") if holds else ("clay", "open")
            widgets.append(MarkedWords(text=words, tone=tone, mark=mark))
        self.side.refill(widgets)
        zoom = self.zoom_plates(self.pane)
        drawing = None
        if shown.markup:
            words = say("Show the photo") if self._drawing else say("Show the drawing")
            drawing = plate(words, "drawing", self._toggle, mark="rule")
        if self._looking_back:
            self.fill_row(self.back_plate(self._back), *zoom, drawing)
            return
        action, words = shown.main
        main = plate(words, action, self.frame.onward if action == "step" else self._retake, "main")
        again = self.phrased(say("Take it again"), "retake")
        retake = plate(again, "retake", self._retake, mark="shutter")
        keep = plate(say("Keep it with a reason"), "keep", self._keep, mark="pencil")
        beside = (retake if action == "step" else None, keep if shown.can_keep else None)
        self.fill_row(main, *beside, *zoom, drawing)

    def _load(self) -> None:
        photo = self._photo() if self.job else None
        if photo is None:
            return
        markup = photo.measured.markup.sha256 if self._drawing and photo.measured else None
        self.load(self.pane, markup or photo.sha256)

    def _toggle(self) -> None:
        self._drawing = not self._drawing
        self._load()
        self.show()

    def _retake(self) -> None:
        self.frame.go("camera", wanted=self._wanted)

    def _keep(self) -> None:
        sha256 = self._photo().sha256

        self.ask_reason(
            "photo",
            say("Why is the photo kept although it does not pass?"),
            lambda reason: self.place.do(c.KeepPhoto(sha256, reason), self.frame.onward),
            self.door("photo", wanted=self._wanted),
        )
