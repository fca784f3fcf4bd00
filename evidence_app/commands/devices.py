"""``evidence-app devices``: try cameras and microphones before a job."""

import time
from pathlib import Path

import click

from evidence_app.commands.shared.entering import Seconds, write_new
from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.errors import DeviceError
from evidence_app.language import say
from evidence_app.sentence import sentence


@click.group()
def devices() -> None:
    """Try cameras and microphones before a job."""


@devices.command()
@click.argument("spec")
@click.argument("out", type=PATH)
@click.option("--wait", type=Seconds(), default=10.0, show_default=True, help="Seconds to wait.")
def camera(spec: str, out: Path, wait: float) -> None:
    """Take a photo with the camera SPEC into OUT and judge it.

    SPEC is camera:0, http://ADDRESS, folder:PATH or file:PATH.
    """
    from evidence_app.devices.named import open_camera
    from evidence_app.photo.gate.check import CHECK_NAMES
    from evidence_app.photo.gate.judge import judge

    device = open_camera(spec)
    device.start()
    try:
        shot = device.take(timeout_s=wait)
    finally:
        device.stop()
    write_new(out, shot.data)
    told = say("{count:,} bytes from {camera}", count=len(shot.data), camera=shot.source["name"])
    click.echo(f"{out}: {told}")
    for check in judge(shot.data).checks:
        kept = say("holds") if check.holds else say("fails")
        click.echo(f"{kept}  {say(CHECK_NAMES[check.name])}: {say(check.sentence)}")


@devices.command()
@click.argument("spec", default="microphone")
@click.option("--seconds", type=Seconds(), default=5.0, show_default=True, help="How long to listen.")
def microphone(spec: str, seconds: float) -> None:
    """Listen to the microphone SPEC and show how loud it is.

    SPEC is microphone, microphone:NAME or file:PATH.
    """
    from evidence_app.devices.named import open_microphone
    from evidence_app.voice.levels import LevelMeter

    device = open_microphone(spec)
    meter = LevelMeter()
    heard: list[int] = []

    def hear(block) -> None:
        meter.feed(block)
        heard.append(len(block))

    device.start(hear)
    time.sleep(seconds)
    status = device.status()
    device.stop()
    if not heard:
        raise DeviceError(
            status.message, where=device.name, remedy=sentence("plug it in, or name another microphone")
        )
    level = meter.level()
    click.echo(f"{device.name}: {say(status.message)}")
    judged = say(level.sentence or sentence("It can be used."))
    tell_user("level {level:.1f} dBFS. {judged}", level=level.rms_dbfs, judged=judged)
