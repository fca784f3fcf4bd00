"""What every camera can do, and how one is opened from a short written name."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from msgspec import Struct

from evidence_app.devices.watch import DeviceStatus, Listener
from evidence_app.sentence import Sentence

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
    not_taken: tuple[Sentence, ...]
    offers: dict[str, tuple[str, ...]]
    chosen: dict[str, str]

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
