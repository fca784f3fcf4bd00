"""Settings: devices with a live test, text size, language, practice, key list, PIN."""

from __future__ import annotations

from kivy.clock import Clock
from kivy.metrics import dp

from evidence_app.tablet.presenting.words import LANGUAGES, say
from evidence_app.tablet.screens.base import BaseScreen, plate
from evidence_app.tablet.settings import TEXT_SIZES
from evidence_app.tablet.widgets import Plate, Words
from evidence_app.tablet.widgets.picture import LivePicture


class SettingsScreen(BaseScreen):
    """``_testing`` is "", "camera" or "microphone"."""

    def enter(self) -> None:
        super().enter()
        self._testing, self._test = "", None
        self._pin_words = ""

    def leave(self) -> None:
        self._end_test()

    def show(self) -> None:
        settings = self.place.settings
        if self._testing or not self.differs(settings, self._pin_words):
            return
        rows = [
            Words(text=say("Settings"), role="title"),
            self._row(say("Text size"), f"{settings.text_size} %", "text-size", self._text_size),
            self._row(say("Language"), LANGUAGES[settings.language], "language", self._language),
            self._row(say("Practice mode"), say("on: nothing is evidence") if settings.practice
                      else say("off: jobs are real"), "practice", self._practice),
            self._row(say("Camera"), settings.camera, "camera",
                      lambda: self._enter("camera", say("Camera: camera:0, an address, folder:PATH"))),
            plate(say("Try the camera"), "try-camera", self._try_camera, mark="shutter"),
            self._row(say("Microphone"), settings.microphone, "microphone",
                      lambda: self._enter("microphone", say("Microphone, or microphone:NAME"))),
            plate(say("Try the microphone"), "try-microphone", self._try_microphone, mark="note"),
            plate(say("Voice: listening and reading aloud"), "voice",
                  lambda: self.frame.go("voice"), mark="ear"),
            self._row(say("Key list of the depot"), settings.key_list or say("none"), "key-list",
                      self._key_list),
            self._row(say("Folder for packages"), str(settings.packages()), "packages",
                      lambda: self._enter("package_folder", say("Folder for sealed packages"))),
            self._row(say("Your name"), settings.technician or say("asked at each job"),
                      "technician", lambda: self._enter("technician", say("Your name"))),
            self._row(say("PIN of this tablet's key"), self._pin_words or say("tried out here"),
                      "pin", self._pin),
        ]
        self.page.refill(rows)
        self.fill_row(plate(say("Back"), "back", self.frame.home, mark="back"))

    def _row(self, name: str, value: str, action: str, call) -> Plate:
        return Plate(text=f"{name}\n{value}", action=action, call=call, mark="rule")

    # --- choosing ----------------------------------------------------------------------

    def _text_size(self) -> None:
        at = TEXT_SIZES.index(min(TEXT_SIZES, key=lambda s: abs(s - self.place.settings.text_size)))
        self.place.change_settings(text_size=TEXT_SIZES[(at + 1) % len(TEXT_SIZES)])

    def _language(self) -> None:
        names = list(LANGUAGES)
        at = names.index(self.place.settings.language)
        self.place.change_settings(language=names[(at + 1) % len(names)])

    def _practice(self) -> None:
        self.place.change_settings(practice=not self.place.settings.practice)

    def _enter(self, name: str, asked: str) -> None:
        def done(text: str, _by: str) -> None:
            self.place.change_settings(**{name: text})
            self.frame.go("settings")

        self.frame.go("entry", asked=asked, done=done, given=getattr(self.place.settings, name),
                      back=lambda: self.frame.go("settings"))

    def _key_list(self) -> None:
        def done(text: str, _by: str) -> None:
            def work():
                from pathlib import Path

                from evidence_app.package.keylist import open_key_list

                return open_key_list(Path(text))

            def good(_) -> None:
                self.place.change_settings(key_list=text)
                self.frame.go("settings")

            def bad(error) -> None:
                self.frame.go("settings")
                self.place.refused(error)

            self.place.worker.run(work, good, bad)

        self.frame.go("entry", asked=say("Path of the depot's key list file"), done=done,
                      given=self.place.settings.key_list, back=lambda: self.frame.go("settings"))

    def _pin(self) -> None:
        from evidence_app.tablet.sealing import key_needs, open_device_key

        new = key_needs() == "new-pin"

        def done(pin: str, _by: str) -> None:
            def good(_) -> None:
                self.frame.go("settings")
                self._pin_words = say("the PIN is right")
                self.show()

            def bad(error) -> None:
                self.frame.go("settings")
                self.place.refused(error)

            self.place.worker.run(lambda: open_device_key(pin), good, bad)

        asked = (say("Choose a PIN for this tablet's key: six digits or more") if new
                 else say("PIN of this tablet's key"))
        self.frame.go("entry", asked=asked, pin=True, done=done, main=say("Go on"),
                      back=lambda: self.frame.go("settings"))

    # --- trying ------------------------------------------------------------------------------

    def _try_camera(self) -> None:
        self._testing = "camera"
        live = LivePicture(size_hint_y=None, height=max(dp(220), self.page.height * 0.7))
        words = Words()
        self.page.refill([Words(text=say("Try the camera"), role="title"), live, words])
        self._test_row()
        self.place.sensing.start_camera(None, self.place.refused)

        def tick(_) -> None:
            camera = self.place.sensing.camera
            if camera is None:
                return
            words.text = camera.status().message
            frame = camera.latest()
            if frame is not None:
                live.show(frame)

        self._test = Clock.schedule_interval(tick, 1 / 20)

    def _try_microphone(self) -> None:
        self._testing = "microphone"
        level_words, words = Words(role="lead"), Words()
        self.page.refill([Words(text=say("Try the microphone: say something"), role="title"),
                          level_words, words])
        self._test_row()
        self.place.sensing.try_microphone(self.place.refused)

        def tick(_) -> None:
            microphone, meter = self.place.sensing.microphone, self.place.sensing.meter
            if microphone is None or meter is None:
                return
            level = meter.level()
            level_words.text = say("Level: {level} dBFS", level=level.rms_dbfs)
            words.text = say(level.sentence) if level.sentence else microphone.status().message

        self._test = Clock.schedule_interval(tick, 0.1)

    def _test_row(self) -> None:
        self.fill_row(plate(say("End the test"), "back", self._back_from_test, "main"))

    def _back_from_test(self) -> None:
        self._end_test()
        self._filled = None
        self.show()

    def _end_test(self) -> None:
        if self._test is not None:
            self._test.cancel()
            self._test = None
            if self._testing == "camera":
                self.place.sensing.end_camera()
            else:
                self.place.sensing.end_trial()
        self._testing = ""
