"""How a path stands on the command line: never an empty one, which means the current folder."""

from pathlib import Path
from typing import Any

import click

from evidence_app.commands.shared.entering import Seconds
from evidence_app.language import say


class _Named(click.Path):
    def __init__(self, addresses: bool = False, **options: Any) -> None:
        self._addresses = addresses  # such as s3://bucket/name, which stay as they are
        super().__init__(path_type=Path, **options)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if value == "":  # a variable that a script left unset; Path("") is the current folder
            self.fail(say("no file was named; give its path"), param, ctx)
        if self._addresses and "://" in str(value):
            return value
        path = super().convert(value, param, ctx)
        if self.exists and isinstance(path, Path) and not path.is_file():
            self.fail(say("{path} is a pipe or a device, not an ordinary file", path=path), param, ctx)
        return path


PATH = _Named()
PLACE = _Named(addresses=True)
FILE = _Named(exists=True, dir_okay=False)
FOLDER = _Named(file_okay=False)


def in_bulk(command):
    """The options of a command that can be done for many packages by Dask."""
    for option in (
        click.option(
            "--time-limit",
            type=Seconds(),
            default=600.0,
            help="With one of these: seconds for a package, 600 if left out.",
        ),
        click.option("--workers", type=click.IntRange(1, 512), help="In so many processes here, by Dask."),
        click.option("--scheduler", metavar="ADDRESS", help="On the Dask cluster at tcp://HOST:PORT."),
    ):
        command = option(command)
    return command
