"""The camera or the microphone that a text names: ``camera:0``, ``folder:PATH``, ``microphone``.

Each kind's module is imported when it is asked for: the image and sound libraries take long to
load and most commands need neither.
"""

from collections.abc import Callable

from evidence_app.devices.camera import Camera
from evidence_app.devices.microphone import Microphone
from evidence_app.errors import DeviceError
from evidence_app.sentence import sentences_beside
from evidence_app.voice.interrupting.loudspeaker import Loudspeaker

_WORDS = sentences_beside(__file__)

_CAMERAS: dict[str, Callable[[str], Camera]] = {}
_MICROPHONES: dict[str, Callable[[str], Microphone]] = {}


def register_camera(scheme: str, factory: Callable[[str], Camera]) -> None:
    """Make ``open_camera("<scheme>:<rest>")`` call ``factory("<rest>")``."""
    _CAMERAS[scheme] = factory


def open_camera(spec: str) -> Camera:
    """The camera that ``spec`` names, not yet started.

    ``camera:0`` or ``camera:0@3840x2160``, ``http://…`` ``https://…`` ``rtsp://…``,
    ``folder:PATH``, ``file:PATH`` and whatever was registered. Raises DeviceError.
    """
    scheme, colon, rest = spec.strip().partition(":")
    scheme = scheme.lower()
    factory = _CAMERAS.get(scheme) or _own_factory(scheme)
    if not colon or not rest or factory is None:
        raise DeviceError.worded(_WORDS["camera"], spec=spec)
    return factory(rest)


def register_microphone(scheme: str, factory: Callable[[str], Microphone]) -> None:
    """Make ``open_microphone("<scheme>:<rest>")`` call ``factory("<rest>")``."""
    _MICROPHONES[scheme] = factory


def open_microphone(spec: str, loudspeaker: Loudspeaker | None = None) -> Microphone:
    """The microphone that ``spec`` names, not yet started.

    ``microphone`` (the system's choice), ``microphone:NAME``, ``file:PATH`` and
    whatever was registered. ``loudspeaker``: plays while it is open, where it
    can. Raises DeviceError.
    """
    scheme, colon, rest = spec.strip().partition(":")
    scheme = scheme.lower()
    if scheme == "microphone":
        from evidence_app.devices.portaudio import PortAudioMicrophone

        return PortAudioMicrophone(rest or None, loudspeaker=loudspeaker)
    if colon and rest and scheme == "file":
        from evidence_app.devices.played import FileMicrophone

        return FileMicrophone(rest)
    if colon and scheme in _MICROPHONES:
        return _MICROPHONES[scheme](rest)
    raise DeviceError.worded(_WORDS["microphone"], spec=spec)


def _own_factory(scheme: str) -> Callable[[str], Camera] | None:
    if scheme == "camera":
        from evidence_app.devices.live import local_camera

        return local_camera
    if scheme in ("http", "https", "rtsp"):
        from evidence_app.devices.live import StreamCamera

        return lambda rest: StreamCamera(f"{scheme}:{rest}")
    if scheme == "folder":
        from evidence_app.devices.folder import FolderCamera

        return FolderCamera
    if scheme == "file":
        from evidence_app.devices.file import FileCamera

        return FileCamera
    return None
