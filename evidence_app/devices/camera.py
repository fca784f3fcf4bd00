"""What every camera can do, and how one is opened from a short written name."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Protocol

from msgspec import Struct

from evidence_app.devices.watch import DeviceStatus, Listener
from evidence_app.errors import DeviceError

if TYPE_CHECKING:
    import numpy as np


class Shot(Struct, frozen=True):
    """A photo as the camera gave it.

    ``data`` is a whole JPEG file; ``source`` says where it came from, as the journal
    keeps it: always ``kind`` and ``name``, then what the kind of camera knows.
    """

    data: bytes
    source: dict


class Camera(Protocol):
    """A camera may be absent when it is started and may come and go while it runs."""

    name: str

    def start(self) -> None:
        """Begin; returns at once. Whether the camera is there is told by ``status``."""

    def stop(self) -> None:
        """End, and wait until the device is let go. May be called twice."""

    def latest(self) -> np.ndarray | None:
        """The newest preview frame, (H, W, 3) uint8 BGR; None when there is none yet."""

    def take(self, timeout_s: float = 5.0) -> Shot:
        """One photo, made now. Raises DeviceError when none came within ``timeout_s``."""

    def status(self) -> DeviceStatus: ...

    def listen(self, listener: Listener) -> None:
        """``listener`` is told, from the camera's thread, when it is lost and returns."""


Factory = Callable[[str], Camera]
_FACTORIES: dict[str, Factory] = {}


def register_camera(scheme: str, factory: Factory) -> None:
    """Make ``open_camera("<scheme>:<rest>")`` call ``factory("<rest>")``."""
    _FACTORIES[scheme] = factory


def open_camera(spec: str) -> Camera:
    """The camera that ``spec`` names, not yet started.

    ``camera:0`` or ``camera:0@3840x2160``, ``http://…`` ``https://…`` ``rtsp://…``,
    ``folder:PATH``, ``file:PATH`` and whatever was registered. Raises DeviceError.
    """
    scheme, colon, rest = spec.strip().partition(":")
    scheme = scheme.lower()
    factory = _FACTORIES.get(scheme) or _own_factory(scheme)
    if not colon or not rest or factory is None:
        raise DeviceError(
            f"“{spec}” does not name a camera",
            remedy="write camera:0, http://host:port/path, folder:PATH or file:PATH",
        )
    return factory(rest)


def wall_now() -> str:
    """The system's wall time, RFC 3339 with offset and milliseconds."""
    return datetime.now().astimezone().isoformat(timespec="milliseconds")


def _own_factory(scheme: str) -> Factory | None:
    # Imported when asked for: OpenCV takes long to load and most commands need no camera.
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
