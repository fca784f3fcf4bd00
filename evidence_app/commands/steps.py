"""``evidence-app steps``: check and show step lists."""

from pathlib import Path

import click

from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.errors import StepListError
from evidence_app.language import say, say_many
from evidence_app.steplist.load import load
from evidence_app.steplist.show import describe


@click.group()
def steps() -> None:
    """Check and show step lists."""


@steps.command()
@click.argument("files", nargs=-1, required=True, type=PATH)
def check(files: tuple[Path, ...]) -> None:
    """Check FILES and their pictures; every problem is named with its line.

    Exit status 0 when all can be used, 2 otherwise.
    """
    refused = 0
    for file in files:
        try:
            step_list = load(file, pictures=True)
        except StepListError as error:
            refused += 1
            click.echo(error.sentence(say=say), err=True)
        else:
            named = f"{step_list.id} {step_list.version}"
            count = say_many("{count} step", "{count} steps", len(step_list.steps))
            tell_user("{file}: can be used: {named}, {count}", file=file, named=named, count=count)
    if refused:
        raise SystemExit(2)


@steps.command()
@click.argument("file", type=PATH)
@click.option("--variant", metavar="NAME", help="Only the steps of this variant.")
def show(file: Path, variant: str | None) -> None:
    """Show the step list in FILE as text."""
    click.echo(describe(load(file), variant), nl=False)
