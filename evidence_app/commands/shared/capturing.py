"""What a job takes from a device: a photo, a spoken note, and the device's coming and going."""

from collections.abc import Callable
from queue import Empty, SimpleQueue
from threading import Timer

import click

from evidence_app.commands.shared.saying import tell_user
from evidence_app.devices.camera import Shot
from evidence_app.devices.microphone import Microphone
from evidence_app.devices.named import open_camera
from evidence_app.devices.watch import DeviceLost, DeviceReturned
from evidence_app.errors import DeviceError
from evidence_app.job import commands as c
from evidence_app.job.running.guide import Job
from evidence_app.job.running.noting import begin_note
from evidence_app.language import say
from evidence_app.sentence import sentence

_WAIT_FOR_SOUND_S = 2.0
_SAY_ABSENT_AFTER_S = 2.0


def take_shot(camera: str, wait_s: float, do: Callable[[c.Command], None]) -> Shot:
    """One photo of the camera named; what is lost and returns meanwhile goes to ``do``.

    Raises DeviceError when the camera gives none within ``wait_s``.
    """
    device = open_camera(camera)
    news: list[DeviceLost | DeviceReturned] = []
    device.listen(news.append)

    def say_absent() -> None:
        status = device.status()
        if not status.present:
            waiting = sentence("not there yet: {what} (Control-C ends the waiting)", what=status.message)
            tell_user(waiting, err=True)

    # A name mistyped or a cable that is out should not be found out at the end of the waiting.
    early = Timer(_SAY_ABSENT_AFTER_S, say_absent)
    device.start()
    try:
        if not camera.startswith("file:"):
            tell_user("waiting up to {wait:g} s for a photo from {name}", wait=wait_s, name=device.name)
            early.start()
        return device.take(wait_s)
    finally:
        early.cancel()
        device.stop()
        for told in news:
            do(c.ReportDevice(told))


def record_note(
    guide: Job, microphone: Microphone, seconds: float, do: Callable[[Job, c.Command], None]
) -> None:
    """Records until the time is over, Control-C, or the microphone gives no more."""
    blocks: SimpleQueue = SimpleQueue()
    news: list[DeviceLost | DeviceReturned] = []
    microphone.listen(news.append)
    microphone.start(blocks.put)
    try:
        # The first block is waited for before the note begins: a note of a microphone
        # that is not there would be an empty one.
        first = blocks.get(timeout=_WAIT_FOR_SOUND_S)
    except Empty:
        told = microphone.status().message  # before it is stopped: then it is only that
        microphone.stop()
        raise DeviceError(
            told, where=microphone.name, remedy=sentence("try it with: evidence-app devices microphone")
        ) from None
    recorder = begin_note(guide, microphone.dropouts)
    recorder.write(first)
    shown = ""
    try:
        while recorder.seconds < seconds and recorder.problem is None:
            now = "\r" + say("speak: {seconds:5.1f} s (Control-C ends) ", seconds=recorder.seconds)
            if now != shown:
                click.echo(now, nl=False)
                shown = now
            recorder.write(blocks.get(timeout=0.1 if news else _WAIT_FOR_SOUND_S))
    except (KeyboardInterrupt, Empty):
        pass
    microphone.stop()
    click.echo()
    done = recorder.finish()
    do(guide, c.FinishNote(done.note, done.flac, done.seconds, done.dropouts, done.cut_short))
    for each in news:
        do(guide, c.ReportDevice(each))
