"""One microphone for several who hear it at the same time.

A device that lets only one program open it lets this one open it once: what listens for
commands and the note that is being recorded hear the same stream.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from evidence_app.devices.microphone import RATE, Microphone, OnBlock, unheard
from evidence_app.devices.named import open_microphone
from evidence_app.devices.watch import DeviceStatus, Listener


class SharedMicrophones:
    """``microphone(spec)`` gives a Microphone; those of one ``spec`` are one device.

    The device runs from the first start to the last stop. One listener that several of
    them have is told once. Thread-safe.
    """

    def __init__(self, opener: Callable[[str], Microphone] = open_microphone) -> None:
        self._opener = opener
        self._lock = threading.Lock()
        self._devices: dict[str, _Device] = {}

    def microphone(self, spec: str) -> SharedMicrophone:
        """Not yet started. Raises DeviceError."""
        with self._lock:
            device = self._devices.get(spec)
            if device is None:
                device = _Device(self._opener(spec))
            return SharedMicrophone(self, spec, device)

    def join(self, spec: str, one: SharedMicrophone) -> None:
        with self._lock:
            # Another may have been started, or ended, since this one was made.
            device = self._devices.setdefault(spec, one.device)
            one.device = device
            first = not device.members
            device.members = (*device.members, one)
            if first:
                device.microphone.start(device.hand_on)

    def leave(self, spec: str, one: SharedMicrophone) -> None:
        with self._lock:
            device = one.device
            if one not in device.members:
                return
            device.members = tuple(member for member in device.members if member is not one)
            last = not device.members
            if last:
                self._devices.pop(spec, None)
                device.microphone.stop()
        if not last:
            with device.handing:  # a block that is being handed on may still be on its way
                pass


class SharedMicrophone:
    """As every microphone; ``stop`` ends only this one's hearing."""

    rate = RATE

    def __init__(self, all_: SharedMicrophones, spec: str, device: _Device) -> None:
        self._all = all_
        self._spec = spec
        self.device = device
        self.name = device.microphone.name
        self.on_block: OnBlock = unheard
        self.listeners: list[Listener] = []

    def start(self, on_block: OnBlock) -> None:
        self.on_block = on_block
        self._all.join(self._spec, self)

    def stop(self) -> None:
        self._all.leave(self._spec, self)

    def status(self) -> DeviceStatus:
        return self.device.microphone.status()

    def dropouts(self) -> int:
        return self.device.microphone.dropouts()

    def listen(self, listener: Listener) -> None:
        self.listeners.append(listener)


class _Device:
    def __init__(self, microphone: Microphone) -> None:
        self.microphone = microphone
        self.members: tuple[SharedMicrophone, ...] = ()
        self.handing = threading.Lock()
        microphone.listen(self._news)

    def hand_on(self, block) -> None:
        with self.handing:
            for member in self.members:
                member.on_block(block)

    def _news(self, news) -> None:
        told: list[Listener] = []
        for member in self.members:
            for listener in member.listeners:
                if listener not in told:
                    told.append(listener)
                    listener(news)
