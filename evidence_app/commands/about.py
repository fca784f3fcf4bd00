"""``evidence-app about``: version, licence, and every library that is used with its own."""

import re
from collections.abc import Iterator
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table

from evidence_app.commands.shared.saying import tell_user
from evidence_app.language import say
from evidence_app.release import release


@click.command()
def about() -> None:
    """Show version and licence, and those of each library that is installed with it."""
    table = Table(say("library"), say("version"), say("licence"), "MB", box=None, pad_edge=False)
    for library in sorted(_used("evidence-app", {}).values(), key=lambda each: each.name.lower()):
        if library.name != "evidence-app":
            table.add_row(library.name, library.version, _licence(library), f"{_mb(library):.1f}")
    tell_user(
        "evidence-app {release}, MIT licence. Offline evidence recorder for repairs.", release=release()
    )
    click.echo(say("The English speech model comes with moonshine-voice, under its licence.") + "\n")
    Console(highlight=False, markup=False).print(table)


def _used(name: str, found: dict[str, Distribution]) -> dict[str, Distribution]:
    """What is installed of all that ``name`` needs, tests and their tools left out."""
    try:
        library = distribution(name)
    except PackageNotFoundError:
        return found
    if name not in found:
        found[name] = library
        for needed in _needed(library):
            _used(needed, found)
    return found


def _needed(library: Distribution) -> Iterator[str]:
    for line in library.requires or ():
        extra = re.search(r"extra\s*==\s*['\"]([\w.-]+)['\"]", line)
        own = library.name == "evidence-app"
        name = re.match(r"[\w.-]+", line)
        if name and (extra is None or (own and extra[1] != "test")):
            yield re.sub(r"[-_.]+", "-", name[0]).lower()


def _licence(library: Distribution) -> str:
    told = library.metadata
    classified = [
        line.rsplit(" :: ", 1)[1]
        for line in told.get_all("Classifier") or ()
        if line.startswith("License ::")
    ]
    written = (told.get_all("License") or [""])[0].splitlines()
    expression = (told.get_all("License-Expression") or [""])[0]
    return expression or ", ".join(classified) or "".join(written[:1]) or "?"


def _mb(library: Distribution) -> float:
    paths = (Path(path.locate()) for path in library.files or ())
    return sum(path.stat().st_size for path in paths if path.is_file()) / 1e6
