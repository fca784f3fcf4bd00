"""Plays a spoken note; the app does not listen meanwhile, so that no note is a command."""

from collections.abc import Callable
from pathlib import Path

from kivy.clock import Clock

from evidence_app.errors import DeviceError
from evidence_app.sentence import sentence

_LOOK_EVERY_S = 0.2


class Playing:
    """One note at a time. ``ears(True)`` before the first sound, ``ears(False)`` after the
    last; ``changed`` when it has begun, gone on a little, or is over."""

    def __init__(self, ears: Callable[[bool], None], changed: Callable[[], None]) -> None:
        self._ears = ears
        self._changed = changed
        self._sound = None
        self._looking = None
        self.of: str | None = None

    @property
    def seconds(self) -> float:
        """How far it has come."""
        return max(0.0, self._sound.get_pos()) if self._sound is not None else 0.0

    def play(self, sha256: str, path: Path) -> None:
        """Raises DeviceError when there is nothing to play it on, or it cannot be read."""
        from kivy.core.audio import SoundLoader

        self.stop()
        try:
            sound = SoundLoader.load(str(path))
        except Exception as error:  # the players' own errors share no class
            raise _unplayable(path) from error
        if sound is None:
            raise _unplayable(path)
        self._sound, self.of = sound, sha256
        self._ears(True)
        sound.play()
        if sound.state != "play":
            self.stop()
            raise _unplayable(path)
        self._looking = Clock.schedule_interval(lambda _: self._look(), _LOOK_EVERY_S)
        self._changed()

    def stop(self) -> None:
        sound, self._sound, self.of = self._sound, None, None
        if self._looking is not None:
            self._looking.cancel()
            self._looking = None
        if sound is not None:
            sound.stop()
            sound.unload()
            self._ears(False)
            self._changed()

    def _look(self) -> None:
        if self._sound is not None and self._sound.state != "play":
            self.stop()
        else:
            self._changed()


def _unplayable(path: Path) -> DeviceError:
    return DeviceError(
        sentence("the note cannot be played here"),
        where=sentence("loudspeaker"),
        remedy=sentence("check the loudspeaker; the note itself is safe"),
    )
