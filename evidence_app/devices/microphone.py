"""What every microphone can do, and how one is opened from a short written name."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

from evidence_app.devices.watch import DeviceStatus, Listener

if TYPE_CHECKING:
    import numpy as np

RATE = 16_000  # samples a second, of everything that a microphone hands on
BLOCK = 320  # samples in a block: 20 ms

OnBlock = Callable[["np.ndarray"], None]


def unheard(_block: np.ndarray) -> None:
    """Where sound goes before anyone has asked for it."""


class Microphone(Protocol):
    """Hands on mono sound at 16 kHz, whatever the device behind it gives."""

    name: str
    rate: int  # always RATE

    def start(self, on_block: OnBlock) -> None:
        """Begin. ``on_block`` gets int16 arrays of shape (n,), in order, on one thread."""

    def stop(self) -> None:
        """End; after it returns ``on_block`` is not called again. May be called twice."""

    def status(self) -> DeviceStatus: ...

    def dropouts(self) -> int:
        """How often, since start, sound was lost between the device and ``on_block``."""

    def listen(self, listener: Listener) -> None:
        """``listener`` is told, from the microphone's thread, when it is lost and returns."""
