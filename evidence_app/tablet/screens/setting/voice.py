"""Settings of the voice: listening, what is read aloud, and every phrase that can be said."""

from kivy.metrics import dp

from evidence_app.language import say
from evidence_app.tablet.presenting.voice import phrase_rows
from evidence_app.tablet.screens.base import BaseScreen, plate, tiles
from evidence_app.tablet.widgets import Panel, Plate, Rows, Words

_SPEEDS = (110, 130, 150, 175, 200)
_VOLUMES = (25, 50, 75, 100)
_SPOKEN = ("all", "answers", "off")
_MARKS = {"listening": "ear", "spoken": "speaking", "speed": "slides", "volume": "voice"}


class VoiceScreen(BaseScreen):
    def show(self) -> None:
        settings = self.place.settings
        if not self.differs(settings):
            return
        spoken = {
            "all": say("steps, cautions, results and answers"),
            "answers": say("answers and results only"),
            "off": say("nothing"),
        }
        self.page.refill(
            [
                Words(text=say("Voice"), role="title"),
                Words(
                    text=say(
                        "Everything said stays on this tablet. The phrases and the voice are "
                        "English. Touch and keys always do the same."
                    ),
                    role="small",
                ),
                tiles(
                    self._row(
                        say("Listen while a job is open"),
                        say("on") if settings.listening else say("off"),
                        "listening",
                        self._listening,
                    ),
                    self._row(
                        say("Read aloud"),
                        spoken[settings.spoken],
                        "spoken",
                        lambda: self.next_of("spoken", _SPOKEN),
                    ),
                    self._row(
                        say("Speed"),
                        say("{count} words a minute", count=settings.speech_speed),
                        "speed",
                        lambda: self.next_of("speech_speed", _SPEEDS),
                    ),
                    self._row(
                        say("Volume"),
                        f"{settings.speech_volume} %",
                        "volume",
                        lambda: self.next_of("speech_volume", _VOLUMES),
                    ),
                    plate(say("Say a sentence to try it"), "try-voice", self._try, mark="speaking"),
                    self.switch(say("Write spoken notes down"), "transcripts", "transcripts", "pencil"),
                    self.switch(say("End a note after a long quiet"), "note_ends", "note-ends", "note"),
                ),
                Words(text=say("What can be said"), role="lead", tone="brass"),
                _phrases(),
            ]
        )
        self.fill_row(plate(say("Back"), "back", self._back, mark="back"))

    def _row(self, name: str, value: str, action: str, call) -> Plate:
        return Plate(text=f"{name}\n{value}", action=action, call=call, mark=_MARKS[action])

    def _listening(self) -> None:
        on = not self.place.settings.listening
        self.place.change_settings(listening=on)
        if self.job is not None:
            self.place.hearing.job_ended()
            self.place.hearing.job_opened()

    def _try(self) -> None:
        self.place.speaking.hush()
        self.place.speaking.answer("This is the voice that reads the steps aloud.")

    def _back(self) -> None:
        if self.job is not None:
            self.frame.home()
        else:
            self.frame.go("settings")


def _phrases() -> Rows:
    panels = [
        Panel(
            Words(text=phrases),
            Words(text=does, role="small", tone="mint"),
            padding=[dp(14), dp(6)],
            spacing=dp(2),
        )
        for phrases, does in phrase_rows()
    ]
    return Rows(*panels, spacing=dp(6))
