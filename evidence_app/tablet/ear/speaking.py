"""What the tablet says aloud: answers to spoken commands, and steps and results as they come.
The voice is English; the screen says the same in its own language.

Knows no Kivy. Called on the UI thread; the voice itself has a thread of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from evidence_app.language import say
from evidence_app.sentence import Sentence
from evidence_app.tablet.place import Place
from evidence_app.tablet.presenting.notices import told

if TYPE_CHECKING:
    from evidence_app.voice.prompts import Prompter


class Speaking:
    """``settings.spoken`` is "all", "answers" (to commands, and results) or "off".

    ``ears(True)`` is called before the first sound and ``ears(False)`` after the last, from
    the voice's thread. ``heard`` answers whether a person is speaking; the voice waits then.
    """

    def __init__(
        self, place: Place, ears: Callable[[bool], None], heard: Callable[[], bool] = lambda: False
    ) -> None:
        self._place = place
        self._ears = ears
        self._heard = heard
        self._prompter: Prompter | None = None
        self._told = False
        self._going = 0
        self._hushed = 0
        self.recited = ""

    @property
    def going(self) -> bool:
        """Whether something is being said or waits to be."""
        return self._going > 0

    def answer(self, text: Sentence | str, then: Callable[[], None] = lambda: None) -> None:
        """An answer or a result. ``then`` is called, here, when it was said or cannot be."""
        self._say(str(text), then, self._place.settings.spoken != "off")

    def aloud(self, text: Sentence | str) -> None:
        """What nobody asked for, such as the step that was just entered."""
        self._say(str(text), lambda: None, self._place.settings.spoken == "all")

    def recite(self, name: str, text: Sentence, silently: bool) -> None:
        """As ``answer``; ``recited`` is ``name`` once it was told to its end. ``silently``: that
        counts by the screen alone too, where nothing is read aloud."""
        self.recited, hushed = "", self._hushed

        def told() -> None:
            aloud = self._place.settings.spoken != "off" and not self._told
            if hushed == self._hushed and self._place.sensing.recorder is None and (aloud or silently):
                self.recited = name

        self.answer(text, told)

    def hush(self) -> None:
        self._hushed += 1
        if self._prompter is not None:
            self._prompter.hush()

    def end(self) -> None:
        prompter, self._prompter = self._prompter, None
        if prompter is not None:
            prompter.close()

    def _say(self, text: str, then: Callable[[], None], wanted: bool) -> None:
        # Its own voice has no place in a spoken note.
        if not wanted or not text.strip() or self._place.sensing.recorder is not None:
            then()
            return
        prompter = self._voice()
        self._going += 1

        def said() -> None:
            self._going -= 1
            then()

        prompter.say(text, lambda: self._place.worker.report(said))

    def _voice(self) -> Prompter:
        if self._prompter is None:
            from evidence_app.voice.prompts import Prompter
            from evidence_app.voice.understanding.listener import AFTER_SPEAKING_S

            self._prompter = Prompter(self._ears, self._unable, heard=self._heard, room_s=AFTER_SPEAKING_S)
        self._prompter.speed = self._place.settings.speech_speed
        self._prompter.volume = self._place.settings.speech_volume
        self._prompter.loudspeaker = self._place.sensing.loudspeaker
        return self._prompter

    def _unable(self, error) -> None:
        """From any thread; told once in a run of the app."""
        if not self._told:
            self._told = True
            why = error.sentence(say=say)
            self._place.worker.report(lambda: self._place.tell(told("aloud", why=why)))
