"""The speech recogniser of the tablet: loaded once, when it is first needed."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evidence_app.voice.understanding.recogniser import Recogniser


class Engine:
    """``get`` may be called from any thread; a failure is tried again at the next call."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._recogniser: Recogniser | None = None

    def get(self) -> Recogniser:
        """Raises VoiceError when the model is missing or damaged. Takes about a second."""
        with self._lock:
            if self._recogniser is None:
                from evidence_app.voice.understanding.recogniser import SpeechRecogniser

                self._recogniser = SpeechRecogniser()
            return self._recogniser
