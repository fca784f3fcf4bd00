"""Several hear one microphone: it is opened once and each gets all of its sound."""

from __future__ import annotations

import numpy as np

from evidence_app.devices.shared import SharedMicrophones
from evidence_app.devices.watch import DeviceLost, Presence


class Device:
    """A microphone whose sound is given by hand."""

    rate = 16_000

    def __init__(self) -> None:
        self.name = "bench microphone"
        self.presence = Presence("microphone", self.name)
        self.started = self.stopped = 0
        self.give = None

    def start(self, on_block) -> None:
        self.started += 1
        self.give = on_block

    def stop(self) -> None:
        self.stopped += 1

    def status(self):
        return self.presence.status()

    def dropouts(self) -> int:
        return 7

    def listen(self, listener) -> None:
        self.presence.listen(listener)


def two():
    devices = []

    def opened(_spec):
        devices.append(Device())
        return devices[-1]

    shared = SharedMicrophones(opened)
    one, other = [], []
    first = shared.microphone("microphone")
    first.start(one.append)
    second = shared.microphone("microphone")
    second.start(other.append)
    return devices, shared, (first, one), (second, other)


BLOCK = np.arange(320, dtype=np.int16)


def test_the_device_is_opened_once_and_each_hears_it():
    devices, _, (_, one), (_, other) = two()
    devices[0].give(BLOCK)
    assert len(devices) == 1 and devices[0].started == 1
    assert len(one) == len(other) == 1


def test_who_stopped_hears_no_more_and_the_other_goes_on():
    devices, _, (first, one), (_, other) = two()
    first.stop()
    devices[0].give(BLOCK)
    assert (len(one), len(other)) == (0, 1)
    assert devices[0].stopped == 0


def test_the_device_ends_with_the_last_and_is_opened_anew():
    devices, shared, (first, _), (second, _) = two()
    first.stop()
    second.stop()
    second.stop()
    assert devices[0].stopped == 1
    shared.microphone("microphone").start(lambda _: None)
    assert len(devices) == 2 and devices[1].started == 1


def test_a_listener_of_both_hears_of_a_loss_once():
    devices, _, (first, _), (second, _) = two()
    news = []
    first.listen(news.append)
    second.listen(news.append)
    devices[0].presence.here("It is heard.")
    devices[0].presence.gone("It is gone.")
    assert [type(each) for each in news] == [DeviceLost]


def test_another_name_is_another_device():
    devices, shared, *_ = two()
    shared.microphone("microphone:other").start(lambda _: None)
    assert len(devices) == 2


def test_status_and_dropouts_are_those_of_the_device():
    devices, _, (first, _), _ = two()
    devices[0].presence.here("It is heard.")
    assert first.status().present
    assert first.dropouts() == 7
