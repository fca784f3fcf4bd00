"""The end: what was recorded, closing, sealing with the PIN; then the fingerprint and the file."""

import io
from functools import partial
from pathlib import Path

from kivy.core.image import Image as CoreImage
from kivy.metrics import dp
from kivy.uix.image import Image

from evidence_app.errors import EvidenceError, SigningKeyError
from evidence_app.job import commands as c
from evidence_app.language import say
from evidence_app.package.seal import seal_job
from evidence_app.tablet.copies import copied_when, note_copy
from evidence_app.tablet.presenting.finish import (
    copied_words,
    copy_failed_words,
    copying_words,
    finishing,
    progress_words,
)
from evidence_app.tablet.presenting.trust import KeyListShown, key_list_shown
from evidence_app.tablet.screens.base import DISKS_EVERY_S, BaseScreen, line_panel, plate, tiles
from evidence_app.tablet.screens.pin import ask_device_pin, choose_pin
from evidence_app.tablet.sealing import copy_to_disk, key_needs, open_device_key
from evidence_app.tablet.widgets import Panel, Words
from evidence_app.tablet.widgets.columns import Columns

_LEAST_BESIDE = 360  # dp, the fingerprint in words beside its code


class FinishScreen(BaseScreen):
    """A package is always written on the tablet first; a disk then gets a copy of it."""

    def enter(self) -> None:
        super().enter()
        self._progress: str | None = None
        self._told: tuple[str, str] | None = None
        self._listed: KeyListShown | None = None
        self.every(DISKS_EVERY_S, self._look)
        if self.place.sealed is not None:
            self._after_sealing()

    def show(self) -> None:
        if self.job is None:
            return
        sealed = self.place.sealed
        shown = finishing(self.job.step_list, self.job.state)
        if not self.differs(shown, self._progress, sealed, self.disks, self._told, self._listed):
            return
        if self._progress is not None:
            title = say("Copying") if sealed is not None else say("Sealing")
            told = say("It can be done again at any time should it be interrupted.")
            self.titled(title, Words(text=self._progress, role="lead"), Words(text=told))
            self.fill_row()
        elif sealed is not None:
            self._show_sealed(sealed)
        else:
            self._show_summary(shown)

    def _show_summary(self, shown) -> None:
        widgets = [Words(text=shown.title, role="title"), Words(text=shown.lead)]
        closed = self.job.state.phase == "closed"
        widgets.append(tiles(*map(line_panel, shown.review)))
        self.page.refill(widgets)
        back = self.back_plate(self._back)
        main = plate(say("Seal on this tablet"), "seal", self._ask_pin, "main")
        if not closed:
            close = partial(self.place.do, c.Close(), self.door("finish"))
            main = plate(say("Close the job"), "close", close, "main")
        self.fill_row(back, main, self.entries_plate())

    def _back(self) -> None:
        if self.job.state.phase == "closed":
            self.pause()
        else:
            self.frame.home()

    # --- sealing -----------------------------------------------------------------------

    def _ask_pin(self, problem: EvidenceError | None = None) -> None:
        needs = key_needs()
        if needs == "none":
            self._seal(None)
        elif needs == "pin":
            ask_device_pin(self.frame, self._with_pin, self.door("finish"), problem)
        else:
            choose_pin(self.frame, self._with_pin, self.door("finish"))

    def _with_pin(self, pin: str) -> None:
        self.frame.go("finish")
        self._seal(pin)

    def _seal(self, pin: str | None) -> None:
        self._progress = say("Opening the key …")
        self.show()
        job, folder, worker = self.job, self.place.settings.packages(), self.place.worker

        def progress(done: int, total: int) -> None:
            worker.report(lambda: self._show_progress(progress_words(done, total)))

        def work():
            return seal_job(job.record, job.step_list, open_device_key(pin), folder, progress)

        worker.run(work, self._sealed, self._not_sealed)

    def _show_progress(self, words: str) -> None:
        if self._progress is not None:
            self._progress = words
            self.show()

    def _sealed(self, package) -> None:
        self._progress = None
        self.place.sealed = package
        self.place.dismiss("refused")
        self._after_sealing()
        self.show()

    def _not_sealed(self, error) -> None:
        self._progress = None
        self._filled = None
        if isinstance(error, SigningKeyError) and key_needs() == "pin":
            self._ask_pin(error)
        else:
            self.place.refused(error)

    # --- sealed --------------------------------------------------------------------------

    def _after_sealing(self) -> None:
        """What the depot's list says of the key, and which disks are plugged in."""
        self._look()
        key_list, sha256 = self.place.settings.key_list, self.place.sealed.seal.device_key_sha256
        if not key_list:
            return

        def done(shown) -> None:
            self._listed = shown
            self.show()

        look = partial(key_list_shown, key_list, sha256, self.place.clock)
        self.place.worker.run(look, done, self.place.refused)

    def _look(self) -> None:
        if self.place.sealed is not None and self._progress is None:
            self.look_for_disks()

    def _show_sealed(self, package) -> None:
        size = f"{package.bytes / 1e6:.1f}"
        waits = say(
            "{files} files, {size} MB. It waits there for the desk.", files=package.files, size=size
        )
        short = Panel(
            Words(text=say("Write this on the paperwork:")),
            Words(text=package.fingerprint, role="title", tone="brass"),
            Words(text=say("The file: {path}", path=package.path.name)),
            Words(text=say("In the folder: {path}", path=package.path.parent)),
            Words(text=waits),
            border="brass",
        )
        code = Image(texture=_qr(package.fingerprint), size_hint_y=None, height=dp(260), fit_mode="contain")
        widgets = [Words(text=say("Sealed"), role="title")]
        if self._told is not None:
            widgets.append(Panel(Words(text=self._told[0]), border=self._told[1]))
        widgets += [Columns(short, code, least=_LEAST_BESIDE)]
        when = copied_when().get(package.fingerprint)
        if when and self._told is None:
            widgets.append(Words(text=say("Copied {when}.", when=when)))
        if self._listed is not None:
            tone = "mint" if self._listed.holds else "clay"
            widgets.append(Words(text=self._listed.key_words, tone=tone))
        widgets += [
            plate(
                say("Copy it to the removable disk {name}", name=disk.name or disk),
                f"copy {number}",
                partial(self._copy, disk),
                mark="next",
            )
            for number, disk in enumerate(self.disks, 1)
        ]
        if not self.disks:
            words = say("Plug in a removable disk to carry a copy of it away.")
            widgets.append(Words(role="small", text=words))
        self.page.refill(widgets)
        self.fill_row(self.entries_plate(), plate(say("Done"), "done", self.pause, "main"))

    def _copy(self, disk: Path) -> None:
        self._progress, self._told = copying_words(0, 1), None
        self.show()
        package, worker = self.place.sealed.path, self.place.worker

        def progress(done: int, total: int) -> None:
            worker.report(lambda: self._show_progress(copying_words(done, total)))

        def ended(words: str, tone: str) -> None:
            self._progress, self._told = None, (words, tone)
            self.page.scroll_y = 1
            self._look()
            self.show()

        def copied(copy: Path) -> None:
            wall, code = self.place.clock.now().wall, self.place.sealed.fingerprint
            worker.run(lambda: note_copy(code, wall), failed=self.place.refused)
            ended(copied_words(copy), "mint")

        worker.run(
            lambda: copy_to_disk(package, disk, progress),
            copied,
            lambda error: ended(copy_failed_words(error), "clay"),
        )


def _qr(text: str):
    """A QR code with its quiet zone, as a texture with hard pixels."""
    import segno

    data = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        data, kind="png", scale=8, border=4, dark="#0D120F", light="#F6F2E7"
    )
    data.seek(0)
    return CoreImage(data, ext="png").texture
