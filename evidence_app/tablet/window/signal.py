"""The signal at the end of a hold: a sound, and vibration where the tablet can."""

import importlib.util
import logging

from evidence_app.errors import EvidenceError
from evidence_app.locations import asset

_BUZZ_S = 0.8
_log = logging.getLogger(__name__)


class HoldSignal:
    """Keeps the sound loaded; a signal that cannot be given never stops the work."""

    def __init__(self) -> None:
        self._sound = None

    def give(self, sound: bool, vibration: bool) -> tuple[bool, bool]:
        """What of the two could be given."""
        return sound and self._play(), vibration and buzz(_BUZZ_S)

    def _play(self) -> bool:
        from kivy.core.audio import SoundLoader

        try:
            if self._sound is None:
                self._sound = SoundLoader.load(str(asset("sounds/hold-over.wav")))
        except EvidenceError as error:
            _log.warning("%s", error.sentence())
        except Exception:  # players fail in many ways; the words and the bar say it too
            _log.warning("no sound can be played", exc_info=True)
        if self._sound is None:
            return False
        self._sound.stop()
        self._sound.play()
        return True


def can_vibrate() -> bool:
    """Whether plyer is installed and has a vibrator for this kind of device."""
    if importlib.util.find_spec("plyer") is None:
        return False
    from plyer.utils import platform

    # Asked of the loader, because plyer prints a traceback for a device it does not know.
    try:
        return importlib.util.find_spec(f"plyer.platforms.{platform}.vibrator") is not None
    except ModuleNotFoundError:
        return False


def buzz(seconds: float) -> bool:
    """Vibrate; whether it did."""
    if not can_vibrate():
        return False
    from plyer import vibrator

    try:
        if not vibrator.exists():
            return False
        vibrator.vibrate(time=seconds)
    except Exception:  # the device's own errors are of many kinds
        _log.warning("the tablet did not vibrate", exc_info=True)
        return False
    return True
