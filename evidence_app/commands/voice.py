"""``evidence-app voice``: try spoken commands before a job, and write down a voice note."""

import queue
import time
from pathlib import Path

import click

from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.errors import DeviceError
from evidence_app.language import say
from evidence_app.reading import open_named

_PATIENCE_S = 2.0


@click.group()
def voice() -> None:
    """Try spoken commands, and write down what a note says."""


@voice.command()
def phrases() -> None:
    """List every phrase that is understood, and what it does."""
    from evidence_app.voice.understanding.words import ENGLISH

    for action, said in ENGLISH.phrases.items():
        click.echo(f"{action:16}{'; '.join(said)}")


@voice.command(name="try")
@click.argument("spec", default="microphone")
@click.option("--seconds", type=float, default=30.0, show_default=True, help="How long to listen.")
@click.option("--unit", help="Also understand numbers in this unit, as for a reading.")
@click.option("--decimals", type=click.IntRange(0, 6), default=2, show_default=True)
def try_(spec: str, seconds: float, unit: str | None, decimals: int) -> None:
    """Listen to the microphone SPEC and show what is understood. Records nothing.

    SPEC is microphone, microphone:NAME or file:PATH; a file ends the listening.
    """
    from evidence_app.devices.named import open_microphone
    from evidence_app.voice.understanding.grammar import Allowed, AskedReading
    from evidence_app.voice.understanding.listener import Listener
    from evidence_app.voice.understanding.recogniser import SpeechRecogniser
    from evidence_app.voice.understanding.words import ENGLISH

    reading = AskedReading("reading", "Reading", unit, decimals) if unit else None
    allowed = Allowed("trial", frozenset(ENGLISH.phrases), reading)
    told: queue.Queue = queue.Queue()
    listener = Listener(SpeechRecogniser(), lambda: allowed, told.put, told.put)
    microphone = open_microphone(spec)
    heard: list[bool] = []

    def hear(block) -> None:
        heard.append(True)
        listener.feed(block)

    listener.start()
    microphone.start(hear)
    began = time.monotonic()
    try:
        while (so_far := time.monotonic() - began) < seconds:
            # A file has ended, or there is no microphone; a real one may take a moment.
            if (heard or so_far > _PATIENCE_S) and not microphone.status().present:
                break
            _show(told, 0.1)
        status = microphone.status()
    finally:
        microphone.stop()
        listener.finish()
        listener.stop()
    while not told.empty():
        _show(told, 0)
    if not heard:
        raise DeviceError(status.message)  # a whole sentence, with its device and remedy


@voice.command()
@click.argument("note", type=PATH)
def transcript(note: Path) -> None:
    """Write down what the voice note NOTE (FLAC or WAV, 16 kHz mono) says. Advice only."""
    from evidence_app.voice.understanding.recogniser import SpeechRecogniser
    from evidence_app.voice.understanding.transcript import transcribe

    with open_named(note):  # refuses what is no ordinary file, by its name
        found = transcribe(note, SpeechRecogniser())
    if found is None:  # only who is told the progress can end it
        return
    click.echo(found.text or say("No speech was heard."))
    tell_user(
        "made by a machine ({engine} {version}) from {seconds:.1f} s of sound; the sound counts, "
        "not this text",
        engine=found.engine,
        version=found.version,
        seconds=found.seconds,
    )


def _show(told: queue.Queue, wait_s: float) -> None:
    from evidence_app.errors import EvidenceError

    try:
        answer = told.get(timeout=wait_s) if wait_s else told.get_nowait()
    except queue.Empty:
        return
    if isinstance(answer, EvidenceError):
        raise answer
    click.echo(
        f"{answer.kind:9}{answer.action or '-':16}{answer.value or '':12}{say(answer.sentence)}".rstrip()
        + ("  " + say("[heard: {words}]", words=answer.heard.strip()) if answer.heard.strip() else "")
    )
