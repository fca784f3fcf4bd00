"""The supervisor's review of a stopped repair, and the countersign."""

from __future__ import annotations

import tempfile
from pathlib import Path

from evidence_app.desk.countersign import AGREE, ASK, DISAGREE
from evidence_app.language import say
from evidence_app.tablet.desk.base import DeskBase
from evidence_app.tablet.desk.deskplace import key_needs
from evidence_app.tablet.desk.presenting.stopped import Stopped, stopped_of
from evidence_app.tablet.desk.widgets import PicturePlate, pairs, panel, texture_of
from evidence_app.tablet.screens.base import plate
from evidence_app.tablet.screens.pin import choose_pin
from evidence_app.tablet.widgets import Panel, Plate, Rows, Words
from evidence_app.tablet.widgets.columns import Columns

_THUMB_PX = 260


class ReviewScreen(DeskBase):
    """``_thumbs`` are small pictures by their path in the package."""

    def enter(self) -> None:
        super().enter()
        self._asking, self._sound, self._scratch = False, None, None
        self._thumbs = {}
        self._of = self.desk.review
        shown = stopped_of(self._of)
        paths = [picture.path for picture in shown.pictures if picture.path] if shown else []
        self.place.worker.run(lambda: _thumbs(self._of, paths), self._made, self.place.refused)

    def leave(self) -> None:
        super().leave()
        self._quiet()

    def show(self) -> None:
        review = self.desk.review
        if not self.differs(len(review.countersigns), self._asking, len(self._thumbs)):
            return
        shown = stopped_of(review)
        if shown is None:
            self.page.refill([Words(text=say("This repair was not stopped."), role="title")])
            self.fill_row(self._back())
        elif self._asking:
            self._ask(shown)
        else:
            self._fill(shown)

    def _fill(self, shown: Stopped) -> None:
        head = Panel(border="clay")
        head.add_widget(Words(text=shown.title, tone="brass"))
        head.add_widget(Words(text=shown.because, role="title"))
        head.add_widget(Words(text=say("Disposition: {text}", text=shown.disposition), role="lead"))
        head.add_widget(Words(text=shown.verdict, tone="mint" if shown.good else "clay"))
        left, right = Rows(), Rows()
        facts = panel(say("How it came to the stop"))
        facts.add_widget(pairs(shown.facts))
        left.add_widget(facts)
        left.add_widget(
            panel(
                say("Forbidden from then on"),
                *(shown.prohibitions or (say("nothing stated"),)),
                shown.kept,
                border="clay" if shown.broken else "mint",
            )
        )
        after = panel(say("What was done afterwards"))
        for words, done in shown.owed:
            after.add_widget(Words(text=words, tone="chalk" if done else "clay"))
        left.add_widget(after)
        for at, note in enumerate(shown.notes):
            right.add_widget(self._note(at, note))
        for at, picture in enumerate(shown.pictures):
            right.add_widget(self._picture(at, picture))
        signed = panel(say("Countersigns"), *(shown.signed or (say("None yet."),)), border="brass")
        self.page.refill([head, signed, Columns(left, right)])
        self.fill_row(
            self._back(), plate(say("Countersign"), "countersign", lambda: self._turn(True), "main")
        )

    def _note(self, at: int, note) -> Panel:
        made = panel(note.words, note.said)
        if note.audio is not None:
            made.add_widget(
                plate(
                    say("Play the note"), f"play {at}", lambda: self._play(note.audio), mark="note"
                )
            )
        return made

    def _picture(self, at: int, picture) -> PicturePlate:
        beside = ", ".join(words for words, _ in picture.beside)
        text = "\n".join(
            x
            for x in (
                picture.title,
                picture.words,
                say("To hold against it: {what}", what=beside) if beside else "",
            )
            if x
        )
        return PicturePlate(
            self._thumbs.get(picture.path),
            Plate(
                text=text,
                mark="shutter",
                action=f"photo {at}",
                disabled=picture.path is None,
                call=lambda: self.frame.go("desk-photo", at=at),
            ),
        )

    def _made(self, pictures) -> None:
        self._thumbs = {path: texture_of(picture) for path, picture in pictures.items()}
        self.show()

    # --- countersigning --------------------------------------------------------------------

    def _turn(self, asking: bool) -> None:
        self._asking = asking
        self.page.scroll_y = 1
        self.show()

    def _ask(self, shown: Stopped) -> None:
        agree = (
            plate(
                say("Agree\nThe disposition is confirmed: {text}", text=shown.disposition),
                AGREE,
                lambda: self._sign(AGREE),
                mark="done",
            )
            if shown.good
            else Words(
                text=say("A check of this package fails, so it cannot be agreed with."), tone="clay"
            )
        )
        self.page.refill(
            [
                Words(text=say("Countersign"), role="title"),
                agree,
                plate(
                    say("Ask for more\nSay what is asked for."),
                    ASK,
                    lambda: self._reason(ASK, say("What is asked for?")),
                    mark="open",
                ),
                plate(
                    say("Disagree\nSay why."),
                    DISAGREE,
                    lambda: self._reason(DISAGREE, say("Why do you disagree?")),
                    mark="stop",
                ),
                Words(
                    text=say(
                        "It is signed with the supervisor's own key, in a file beside the "
                        "package, and bound to its seal."
                    ),
                    role="small",
                ),
            ]
        )
        self.fill_row(plate(say("Back"), "back", lambda: self._turn(False), mark="back"))

    def _reason(self, decision: str, asked: str) -> None:
        self.ask(asked, lambda reason: self._sign(decision, reason), "desk-review")

    def _sign(self, decision: str, reason: str = "") -> None:
        if not self.desk.settings.supervisor:

            def named(name: str) -> None:
                self.desk.change(supervisor=name)
                self._sign(decision, reason)

            self.ask(say("Name of the supervisor"), named, "desk-review", main=say("Go on"))
            return
        needs = key_needs(self.desk.settings.supervisor_key_path())
        if needs == "none":
            self._with_pin(decision, reason, None)
            return
        if needs == "new-pin":

            def chosen(pin: str) -> None:
                self.frame.go("desk-review")
                self._with_pin(decision, reason, pin)

            choose_pin(
                self.frame,
                chosen,
                lambda: self.frame.go("desk-review"),
                say("Choose a PIN for the supervisor's own key: six digits or more"),
            )
            return
        self.ask(
            say("PIN of the supervisor's own key"),
            lambda pin: self._with_pin(decision, reason, pin),
            "desk-review",
            pin=True,
            main=say("Sign"),
        )

    def _with_pin(self, decision: str, reason: str, pin: str | None) -> None:
        self.desk.countersign(decision, reason, pin, lambda: self.frame.go("desk-review"))

    # --- listening ----------------------------------------------------------------------------

    def _play(self, sha256: str) -> None:
        review = self._of
        self._quiet()
        self.place.worker.run(lambda: _sound_file(review, sha256), self._heard, self.place.refused)

    def _heard(self, path: Path) -> None:
        from kivy.core.audio import SoundLoader

        self._scratch = path
        self._sound = SoundLoader.load(str(path))
        if self._sound is not None:
            self._sound.play()

    def _quiet(self) -> None:
        if self._sound is not None:
            self._sound.stop()
            self._sound.unload()
            self._sound = None
        if self._scratch is not None:
            self._scratch.unlink(missing_ok=True)
            self._scratch = None

    def _back(self):
        return plate(say("Back"), "back", lambda: self.frame.go("desk-package"), mark="back")


def _thumbs(review, paths):
    from evidence_app.desk.photos.hash import small_picture
    from evidence_app.desk.review import photo_of
    from evidence_app.errors import EvidenceError

    found = {}
    for path in dict.fromkeys(paths):
        try:
            found[path] = small_picture(photo_of(review, path), _THUMB_PX, path)
        except (EvidenceError, KeyError):
            continue
    return found


def _sound_file(review, sha256: str) -> Path:
    from evidence_app.desk.review import note_of

    with tempfile.NamedTemporaryFile(suffix=".flac", delete=False) as file:
        file.write(note_of(review, sha256))
    return Path(file.name)
