"""Settings: devices with a live test, text size, language, practice, the end of a hold."""

from functools import partial

from kivy.clock import Clock
from kivy.metrics import dp

from evidence_app.language import LANGUAGES, say
from evidence_app.tablet.presenting.working.hold import signal_words
from evidence_app.tablet.presenting.working.note import level_words
from evidence_app.tablet.screens.base import BaseScreen, plate, tiles
from evidence_app.tablet.settings import TEXT_SIZES
from evidence_app.tablet.widgets import Plate, Words
from evidence_app.tablet.widgets.level import LevelBar
from evidence_app.tablet.widgets.picture import LivePicture
from evidence_app.tablet.window.signal import can_vibrate

_MARKS = {
    "text-size": "steps",
    "language": "tongue",
    "practice": "hatch",
    "card": "slides",
    "camera": "shutter",
    "microphone": "note",
    "devicekey": "key",
    "vibration": "voice",
    "packages": "folder",
    "technician": "person",
}


class SettingsScreen(BaseScreen):
    """``_testing`` is "", "camera" or "microphone"."""

    def enter(self) -> None:
        super().enter()
        self._testing, self._test = "", None
        self._signal_words = ""

    def leave(self) -> None:
        self._end_test()

    def show(self) -> None:
        settings = self.place.settings
        self._card = self.place.card_serial()
        if self._testing or not self.differs(settings, self._signal_words, self._card):
            return
        rows = [
            self._row(
                say("Text size"),
                f"{settings.text_size} %",
                "text-size",
                partial(self.next_of, "text_size", TEXT_SIZES),
            ),
            self._row(
                say("Language"),
                LANGUAGES[settings.language],
                "language",
                partial(self.next_of, "language", tuple(LANGUAGES)),
            ),
            self._row(
                say("Practice mode"),
                say("on: nothing is evidence") if settings.practice else say("off: jobs are real"),
                "practice",
                self._practice,
            ),
            self._row(
                say("Camera"), settings.camera, "camera", lambda: self.frame.go("device", kind="camera")
            ),
            self._row(say("Scale card"), self._card or say("none is confirmed"), "card", self._cards),
            plate(say("Try the camera"), "try-camera", self._try_camera, mark="shutter"),
            self._row(
                say("Microphone"),
                settings.microphone,
                "microphone",
                lambda: self.frame.go("device", kind="microphone"),
            ),
            plate(say("Try the microphone"), "try-microphone", self._try_microphone, mark="note"),
            plate(
                say("Voice: listening and reading aloud"),
                "voice",
                lambda: self.frame.go("voice"),
                mark="ear",
            ),
            self._row(
                say("Key of this tablet"),
                say("PIN, key list of the depot"),
                "devicekey",
                lambda: self.frame.go("devicekey"),
            ),
            plate(say("What works on this tablet"), "ready", lambda: self.frame.go("ready"), mark="done"),
            self.switch(say("Sound at the end of a hold"), "sound", "sound", "speaking"),
            self._row(
                say("Vibration at the end of a hold"),
                self._vibration(),
                "vibration",
                lambda: self.place.change_settings(vibration=not settings.vibration),
            ),
            plate(say("Try the end of a hold"), "try-signal", self._try_signal, mark="next"),
            self._row(
                say("Folder for packages"),
                str(settings.packages()),
                "packages",
                lambda: self._enter("package_folder", say("Folder for sealed packages")),
            ),
            self._row(
                say("Your name"),
                settings.technician or say("asked at each job"),
                "technician",
                lambda: self._enter("technician", say("Your name")),
            ),
        ]
        self.page.refill(
            [
                Words(text=say("Settings"), role="title"),
                *([Words(text=self._signal_words, tone="brass")] if self._signal_words else []),
                tiles(*rows),
            ]
        )
        self.fill_row(plate(say("Back"), "back", self.frame.home, mark="back"))

    def _row(self, name: str, value: str, action: str, call) -> Plate:
        return plate(f"{name}\n{value}", action, call, mark=_MARKS.get(action, "slides"))

    # --- choosing ----------------------------------------------------------------------

    def _cards(self) -> None:
        self.place.next_card()
        self.show()

    def _practice(self) -> None:
        self.place.change_settings(practice=not self.place.settings.practice)

    def _vibration(self) -> str:
        if not can_vibrate():
            return say("this tablet has none that the app can use")
        return say("on") if self.place.settings.vibration else say("off")

    def _try_signal(self) -> None:
        settings, given = self.place.settings, self.frame.try_signal()
        self.page.scroll_y = 1
        self._signal_words = " ".join(
            signal_words(settings.sound, settings.vibration and can_vibrate(), given.sound, given.vibration)
        )
        self.show()

    def _enter(self, name: str, asked: str) -> None:
        def back() -> None:
            self.frame.go("settings")

        def done(text: str) -> None:
            self.place.change_settings(**{name: text})
            back()

        self.ask(asked, done, back, given=getattr(self.place.settings, name))

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
            words.text = say(camera.status().message)
            frame = camera.latest()
            if frame is not None:
                live.show(frame)

        self._test = Clock.schedule_interval(tick, 1 / 20)

    def _try_microphone(self) -> None:
        self._testing = "microphone"
        heard, words, bar = Words(role="lead"), Words(), LevelBar()
        self.page.refill(
            [Words(text=say("Try the microphone: say something"), role="title"), bar, heard, words]
        )
        self._test_row()
        self.place.sensing.try_microphone(self.place.refused)

        def tick(_) -> None:
            microphone, meter = self.place.sensing.microphone, self.place.sensing.meter
            if microphone is None or meter is None:
                return
            level = meter.level()
            bar.fill((level.rms_dbfs + 60) / 60)
            heard.text = level_words(level.sentence, level.rms_dbfs)
            words.text = say(microphone.status().message)

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
