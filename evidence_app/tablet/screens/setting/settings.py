"""Settings: devices with a live test, text size, language, practice, the end of a hold."""

from collections.abc import Callable
from functools import partial

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


class SettingsScreen(BaseScreen):
    """``_testing`` is "", "camera" or "microphone"."""

    def enter(self) -> None:
        super().enter()
        self._testing = self._signal_words = ""

    def leave(self) -> None:
        super().leave()
        if self._testing == "camera":
            self.place.sensing.end_camera()
        elif self._testing:
            self.place.sensing.end_trial()
        self._testing = ""

    def show(self) -> None:
        settings = self.place.settings
        self._card = self.place.card_serial()
        if self._testing or not self.differs(settings, self._signal_words, self._card):
            return
        camera, microphone = (self.door("device", kind=kind) for kind in ("camera", "microphone"))
        key = say("PIN, key list of the depot")
        folder = partial(self._enter, "package_folder", say("Folder for sealed packages"))
        person = settings.technician or say("asked at each job")
        name = partial(self._enter, "technician", say("Your name"))
        rows = [
            self.turned(say("Text size"), "text_size", {size: f"{size} %" for size in TEXT_SIZES}, "steps"),
            plate(say("Measure the screen"), "ruler", self.door("ruler"), mark="rule"),
            self.turned(
                say("Theme"), "theme", {"dark": say("dark"), "bright": say("bright, for sunlight")}, "light"
            ),
            self.turned(say("Language"), "language", LANGUAGES, "tongue"),
            self.turned(
                say("Practice mode"),
                "practice",
                {True: say("on: nothing is evidence"), False: say("off: jobs are real")},
                "hatch",
            ),
            _row(say("Camera"), settings.camera, "camera", camera, "shutter"),
            _row(say("Scale card"), self._card or say("none is confirmed"), "card", self._cards, "slides"),
            plate(say("Try the camera"), "try-camera", self._try_camera, mark="shutter"),
            _row(say("Microphone"), settings.microphone, "microphone", microphone, "note"),
            plate(say("Try the microphone"), "try-microphone", self._try_microphone, mark="note"),
            plate(say("Voice: listening and reading aloud"), "voice", self.door("voice"), mark="ear"),
            _row(say("Key of this tablet"), key, "devicekey", self.door("devicekey"), "key"),
            plate(say("What works on this tablet"), "ready", self.door("ready"), mark="done"),
            self.switch(say("Sound at the end of a hold"), "sound", "speaking"),
            self._vibration(),
            plate(say("Try the end of a hold"), "try-signal", self._try_signal, mark="next"),
            _row(say("Folder for packages"), str(settings.packages()), "packages", folder, "folder"),
            _row(say("Your name"), person, "technician", name, "person"),
        ]
        told = [Words(text=self._signal_words, tone="brass")] if self._signal_words else []
        self.titled(say("Settings"), *told, tiles(*rows))
        self.fill_row(self.back_plate(self.frame.home))

    # --- choosing ----------------------------------------------------------------------

    def _cards(self) -> None:
        self.place.next_card()
        self.show()

    def _vibration(self) -> Plate:
        name = say("Vibration at the end of a hold")
        if can_vibrate():
            return self.switch(name, "vibration", "voice")
        none = say("this tablet has none that the app can use")
        return self.turned(name, "vibration", {True: none, False: none}, "voice")

    def _try_signal(self) -> None:
        settings, given = self.place.settings, self.frame.try_signal()
        self.page.scroll_y = 1
        self._signal_words = " ".join(
            signal_words(settings.sound, settings.vibration and can_vibrate(), *given)
        )
        self.show()

    def _enter(self, name: str, asked: str) -> None:
        def done(text: str) -> None:
            self.place.change_settings(**{name: text})
            self.frame.go("settings")

        self.ask(asked, done, self.door("settings"), given=getattr(self.place.settings, name))

    # --- trying ------------------------------------------------------------------------------

    def _try_camera(self) -> None:
        self._testing = "camera"
        live = LivePicture(size_hint_y=None, height=max(dp(220), self.page.height * 0.7))
        words = Words()
        self.titled(say("Try the camera"), live, words)
        self._test_row()
        self.place.sensing.start_camera(None, self.place.refused)

        def tick() -> None:
            camera = self.place.sensing.camera
            if camera is None:
                return
            words.text = say(camera.status().message)
            frame = camera.latest()
            if frame is not None:
                live.show(frame)

        self.every(1 / 20, tick)

    def _try_microphone(self) -> None:
        self._testing = "microphone"
        heard, words, bar = Words(role="lead"), Words(), LevelBar()
        self.titled(say("Try the microphone: say something"), bar, heard, words)
        self._test_row()
        self.place.sensing.try_microphone(self.place.refused)

        def tick() -> None:
            microphone, meter = self.place.sensing.microphone, self.place.sensing.meter
            if microphone is None or meter is None:
                return
            level = meter.level()
            bar.fill((level.rms_dbfs + 60) / 60)
            heard.text = level_words(level.sentence, level.rms_dbfs)
            words.text = say(microphone.status().message)

        self.every(0.1, tick)

    def _test_row(self) -> None:
        self.fill_row(plate(say("End the test"), "back", self._back_from_test, "main"))

    def _back_from_test(self) -> None:
        self.leave()
        self._filled = None
        self.show()


def _row(name: str, value: str, action: str, call: Callable[[], None], mark: str) -> Plate:
    return plate(f"{name}\n{value}", action, call, mark=mark)
