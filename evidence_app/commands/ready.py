"""``evidence-app ready``: what works on this machine, and what to do about the rest."""

from pathlib import Path

import click
from rich.console import Console
from rich.table import Table

from evidence_app.language import say


@click.command()
@click.option("--camera", metavar="SPEC", help="Instead of the one that is set in the tablet.")
@click.option("--microphone", metavar="SPEC", help="Instead of the one that is set.")
def ready(camera: str | None, microphone: str | None) -> None:
    """Try camera, microphone, voice, screen, printer, clock, disk and keys.

    Nothing is recorded. The exit status is 1 when something does not work without which a
    job cannot be done on this machine, and 0 when the rest only limits it.
    """
    from evidence_app.locations import device_key_path
    from evidence_app.machine.part import STATE_WORDS
    from evidence_app.machine.ready import look
    from evidence_app.tablet.settings import load_settings

    settings, problem = load_settings()
    if problem:
        click.echo(problem, err=True)
    table = Table(box=None, pad_edge=False, show_header=False)
    for no_wrap in (True, True, False):
        table.add_column(no_wrap=no_wrap)
    found = []
    for part in look(
        camera or settings.camera,
        microphone or settings.microphone,
        settings.language,
        device_key_path(),
        Path(settings.key_list) if settings.key_list else None,
    ):
        found.append(part)
        table.add_row(say(part.name), say(STATE_WORDS[part.state]), part.words(say))
    Console(highlight=False, markup=False).print(table)
    if any(part.state == "fails" for part in found):
        raise click.exceptions.Exit(1)
