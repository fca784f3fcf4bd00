"""Settings of the voice: listening, what is read aloud, and every phrase that can be said."""

from kivy.metrics import dp

from evidence_app.language import say
from evidence_app.sentence import sentences_beside
from evidence_app.tablet.presenting.voice import phrase_rows
from evidence_app.tablet.screens.base import BaseScreen, plate, tiles
from evidence_app.tablet.widgets import Panel, Rows, Words

_SPEEDS = (110, 130, 150, 175, 200)
_VOLUMES = (25, 50, 75, 100)
_SPOKEN = sentences_beside(__file__)["spoken"]


class VoiceScreen(BaseScreen):
    def show(self) -> None:
        settings = self.place.settings
        if not self.differs(settings):
            return
        told = say(
            "Everything said stays on this tablet. The phrases and the voice are English. Touch and "
            "keys always do the same."
        )
        spoken = {name: say(words) for name, words in _SPOKEN.items()}
        speeds = {count: say("{count} words a minute", count=count) for count in _SPEEDS}
        self.titled(
            say("Voice"),
            Words(text=told, role="small"),
            tiles(
                self.switch(say("Listen for spoken commands"), "listening", "ear"),
                self.turned(say("Read aloud"), "spoken", spoken, "speaking"),
                self.turned(say("Speed"), "speech_speed", speeds, "slides"),
                self.turned(say("Volume"), "speech_volume", {at: f"{at} %" for at in _VOLUMES}, "voice"),
                plate(say("Say a sentence to try it"), "try-voice", self._try, mark="speaking"),
                self.switch(say("Write spoken notes down"), "transcripts", "pencil"),
                self.switch(say("End a note after a long quiet"), "note_ends", "note"),
            ),
            Words(text=say("What can be said"), role="lead", tone="brass"),
            _phrases(),
        )
        self.fill_row(self.back_plate(self.door("settings") if self.job is None else self.frame.home))

    def _try(self) -> None:
        self.place.speaking.hush()
        self.place.speaking.answer("This is the voice that reads the steps aloud.")


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
