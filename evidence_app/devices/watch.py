"""Keeps one device open: tells when it is lost, opens it again when it returns.

A device is a function that opens the hardware, says ``watch.arrived()`` once it
delivers, works until ``watch.ending`` and raises DeviceError when it cannot be opened
or is lost. The watch calls it again and again, waiting a little longer each time.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from datetime import datetime
from typing import Literal

from msgspec import Struct

from evidence_app.errors import DeviceError
from evidence_app.sentence import Sentence, sentence


def wall_now() -> str:
    """The system's wall time, RFC 3339 with offset and milliseconds."""
    return datetime.now().astimezone().isoformat(timespec="milliseconds")


_log = logging.getLogger(__name__)

FIRST_PAUSE_S = 0.25
LONGEST_PAUSE_S = 2.0
# The longest nap, so that a program that ends without stop() is not held up for longer.
_NAP_S = 0.2


class DeviceStatus(Struct, frozen=True):
    """``message`` is a plain sentence; ``since`` the wall time (RFC 3339) of the change."""

    present: bool
    message: Sentence
    since: str


class DeviceLost(Struct, frozen=True):
    device: Literal["camera", "microphone"]
    name: str
    message: Sentence


class DeviceReturned(Struct, frozen=True):
    """``away_s`` is measured on the monotonic clock."""

    device: Literal["camera", "microphone"]
    name: str
    away_s: float


Listener = Callable[[DeviceLost | DeviceReturned], None]


class Presence:
    """Whether one device is there, and who wants to know. Thread-safe.

    A device that has never been there is absent, but not lost: listeners hear of a
    loss only after it has been present once.
    """

    def __init__(self, device: Literal["camera", "microphone"], name: str) -> None:
        self._device = device
        self._name = name
        self._lock = threading.Lock()
        self._listeners: list[Listener] = []
        self._lost_at: float | None = None
        self._status = DeviceStatus(False, sentence("{name} is not started.", name=name), wall_now())

    def status(self) -> DeviceStatus:
        return self._status

    def listen(self, listener: Listener) -> None:
        with self._lock:
            self._listeners.append(listener)

    def here(self, message: Sentence) -> None:
        with self._lock:
            was_present = self._status.present
            lost_at, self._lost_at = self._lost_at, None
            self._set(True, message)
        if not was_present and lost_at is not None:
            away_s = round(time.monotonic() - lost_at, 3)
            self._tell(DeviceReturned(self._device, self._name, away_s))

    def gone(self, message: Sentence) -> None:
        with self._lock:
            was_present = self._status.present
            if was_present:
                self._lost_at = time.monotonic()
            self._set(False, message)
        if was_present:
            self._tell(DeviceLost(self._device, self._name, message))

    def ended(self, message: Sentence) -> None:
        """Absent because it was asked to end: nobody is told of a loss."""
        with self._lock:
            self._lost_at = None
            self._set(False, message)

    def _set(self, present: bool, message: Sentence) -> None:
        if (present, message) != (self._status.present, self._status.message):
            self._status = DeviceStatus(present, message, wall_now())

    def _tell(self, news: DeviceLost | DeviceReturned) -> None:
        with self._lock:
            listeners = tuple(self._listeners)
        for listener in listeners:
            try:
                listener(news)
            except Exception:  # a listener's mistake must not end the capture
                _log.exception("a listener failed on %s", news)


class Watch:
    """Runs ``work(watch)`` on its own thread until stopped, reopening after each loss."""

    def __init__(self, presence: Presence, name: str, work: Callable[[Watch], None]) -> None:
        self._presence = presence
        self._name = name
        self._work = work
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._pause_s = FIRST_PAUSE_S

    def start(self) -> None:
        if self._thread is not None:
            return
        self._stop.clear()
        # Not a daemon: a thread inside OpenCV or PortAudio at exit aborts the interpreter.
        self._thread = threading.Thread(target=self._run, name=f"device {self._name}")
        self._thread.start()

    def stop(self) -> None:
        self._stop.set()
        thread, self._thread = self._thread, None
        if thread is not None and thread is not threading.current_thread():
            thread.join()

    @property
    def ending(self) -> bool:
        """Work is to come to its end: stop was called, or the program is leaving."""
        return self._stop.is_set() or not threading.main_thread().is_alive()

    def arrived(self, message: Sentence) -> None:
        """The device delivers. Called by ``work``, as often as it likes."""
        self._pause_s = FIRST_PAUSE_S
        self._presence.here(message)

    def nap(self, seconds: float) -> None:
        """Wait, but not when ending."""
        until = time.monotonic() + seconds
        while not self.ending and (left := until - time.monotonic()) > 0:
            self._stop.wait(min(left, _NAP_S))

    def _run(self) -> None:
        while not self.ending:
            try:
                self._work(self)
            except DeviceError as error:
                self._presence.gone(error.told)
            except Exception as error:
                # The capture must go on whatever a driver's binding throws at it.
                _log.exception("%s failed", self._name)
                self._presence.gone(sentence("{name} failed: {error}.", name=self._name, error=error))
            else:
                break  # the work is done: a file that was played to its end
            self.nap(self._pause_s)
            self._pause_s = min(self._pause_s * 2, LONGEST_PAUSE_S)
        if self.ending:
            self._presence.ended(sentence("{name} is stopped.", name=self._name))


class Watched:
    """What a device that is kept open by a watch says of itself, and how it comes to its end."""

    def __init__(self, device: Literal["camera", "microphone"], name: str) -> None:
        self.name = name
        self._presence = Presence(device, name)
        self._watch = Watch(self._presence, name, self._work)

    def stop(self) -> None:
        self._watch.stop()

    def status(self) -> DeviceStatus:
        return self._presence.status()

    def listen(self, listener: Listener) -> None:
        self._presence.listen(listener)

    def _work(self, watch: Watch) -> None:
        """What keeps the device open; see above."""
        raise NotImplementedError


class WatchedCamera(Watched):
    """A camera needs nothing more to be started. ``not_taken``: what came and is no photo to be
    taken, with the reason, the latest last. ``offers``: the values of each control that can be set;
    ``chosen``: what is set of them."""

    not_taken: tuple[Sentence, ...] = ()

    def __init__(self, name: str) -> None:
        super().__init__("camera", name)
        self.offers: dict[str, tuple[str, ...]] = {}
        self.chosen: dict[str, str] = {}

    def start(self) -> None:
        self._watch.start()
