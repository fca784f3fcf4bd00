"""The end: what was shown, closing, sealing with the PIN, the fingerprint, where the file is."""

from __future__ import annotations

import io

from kivy.core.image import Image as CoreImage
from kivy.metrics import dp
from kivy.uix.image import Image

from evidence_app.job import commands as c
from evidence_app.tablet.presenting.finish import destinations, finishing, progress_words
from evidence_app.tablet.presenting.words import say
from evidence_app.tablet.screens.base import BaseScreen, plate
from evidence_app.tablet.sealing import key_needs, open_device_key, removable_disks, seal
from evidence_app.tablet.widgets import Panel, Plate, Words


class FinishScreen(BaseScreen):
    def enter(self) -> None:
        super().enter()
        self._progress = None
        self._target = None

    def show(self) -> None:
        if self.job is None:
            return
        sealed = self.place.sealed
        shown = finishing(self.job.step_list, self.job.state)
        if not self.differs(shown, self._progress, sealed):
            return
        if sealed is not None:
            self._show_sealed(sealed)
        elif self._progress is not None:
            self.page.refill([Words(text=say("Sealing"), role="title"),
                              Words(text=self._progress, role="lead"),
                              Words(text=say("It can be done again at any time should it be "
                                             "interrupted."))])
            self.fill_row()
        else:
            self._show_summary(shown)

    def _show_summary(self, shown) -> None:
        widgets = [Words(text=shown.title, role="title"), Words(text=shown.lead)]
        closed = self.job.state.phase == "closed"
        back = plate(say("Back"), "back", self._back, mark="back")
        if closed:
            head = say("Seal")
            found = destinations(self.place.settings.packages(), removable_disks())
            widgets += [Plate(text=f"{head}: {d.words}\n{d.folder}", mark="next",
                              action=f"seal {n}", call=lambda d=d: self._seal(d))
                        for n, d in enumerate(found)]
        for line in shown.checkpoints:
            panel = Panel()
            panel.add_widget(Words(text=line.title, role="lead"))
            panel.add_widget(Words(text=line.words))
            for kept in line.kept:
                panel.add_widget(Words(text=kept, tone="clay"))
            widgets.append(panel)
        widgets += [Words(text=text, tone="clay") for text in shown.outside]
        self.page.refill(widgets)
        if closed:
            self.fill_row(back, plate(say("Seal on this tablet"), "seal", lambda: self._seal(
                destinations(self.place.settings.packages(), [])[0]), "main"))
        else:
            self.fill_row(back, plate(say("Close the job"), "close",
                                      lambda: self.place.do(c.Close(), self.enter_again), "main"))

    def enter_again(self) -> None:
        self.frame.go("finish")

    def _back(self) -> None:
        if self.job.state.phase == "closed":
            self.place.put_down(lambda: self.frame.go("start"))
        else:
            self.frame.home()

    # --- sealing -----------------------------------------------------------------------

    def _seal(self, destination) -> None:
        self._target = destination
        needs = key_needs()
        if needs == "none":
            self._start(None)
            return
        asked = (say("PIN of this tablet's key") if needs == "pin" else
                 say("Choose a PIN for this tablet's key: six digits or more"))
        self.frame.go("entry", asked=asked, pin=True, main=say("Seal"),
                      done=lambda pin, _by: self._with_pin(pin, destination),
                      back=lambda: self.frame.go("finish"))

    def _with_pin(self, pin: str, destination) -> None:
        self.frame.go("finish")
        self._target = destination
        self._start(pin)

    def _start(self, pin: str | None) -> None:
        self._progress = say("Opening the key …")
        self.show()
        job, folder, worker = self.job, self._target.folder, self.place.worker

        def progress(done: int, total: int) -> None:
            worker.report(lambda: self._show_progress(done, total))

        worker.run(lambda: seal(job, open_device_key(pin), folder, progress),
                   self._sealed, self._not_sealed)

    def _show_progress(self, done: int, total: int) -> None:
        if self._progress is not None:
            self._progress = progress_words(done, total)
            self.show()

    def _sealed(self, package) -> None:
        self._progress = None
        self.place.sealed = package
        self.place.dismiss("refused")
        self.show()

    def _not_sealed(self, error) -> None:
        self._progress = None
        self._filled = None
        self.place.refused(error)

    def _show_sealed(self, package) -> None:
        short = Panel(border="brass")
        short.add_widget(Words(text=say("Write this on the paperwork:")))
        short.add_widget(Words(text=package.fingerprint, role="title", tone="brass"))
        short.add_widget(Image(texture=_qr(package.fingerprint), size_hint_y=None,
                               height=dp(260), fit_mode="contain"))
        self.page.refill([
            Words(text=say("Sealed"), role="title"), short,
            Words(text=say("The file: {path}", path=package.path)),
            Words(text=say("{files} files, {size} MB. It waits there for the desk.",
                           files=package.files, size=f"{package.bytes / 1e6:.1f}")),
        ])
        self.fill_row(
            plate(say("Look back"), "lookback", lambda: self.frame.go("lookback"), mark="rule"),
            plate(say("Done"), "done",
                  lambda: self.place.put_down(lambda: self.frame.go("start")), "main"))


def _qr(text: str):
    """A QR code with its quiet zone, as a texture with hard pixels."""
    import segno

    data = io.BytesIO()
    segno.make(text, error="m", micro=False).save(data, kind="png", scale=8, border=4,
                                                  dark="#0D120F", light="#F6F2E7")
    data.seek(0)
    return CoreImage(data, ext="png").texture
