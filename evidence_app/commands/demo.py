"""``evidence-app demo``: play the sample sessions and check what comes out."""

import time
from itertools import chain, count
from pathlib import Path

import click
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

from evidence_app.commands.shared.paths import PATH
from evidence_app.language import say
from evidence_app.package.verify.result import lines
from evidence_app.practice.demo import DEVICE_PIN, SESSIONS, Demo, run_demo
from evidence_app.practice.technician import LineTold

_DEFAULT = "demo-packages"


@click.command()
@click.argument("folder", type=PATH, required=False)
@click.option("--every-line", is_flag=True, help="Print every action, not only the notable ones.")
def demo(folder: Path | None, every_line: bool) -> None:
    """Play the four sample sessions in FOLDER and check what comes out.

    FOLDER must be new or empty; by default it is demo-packages, or the next
    free name of that kind. The sessions are practice: rendered photos, a
    practice clock, and packages that can never pass for evidence.
    """
    begun = time.monotonic()
    folder = folder or _free_folder()
    console = Console(highlight=False, soft_wrap=True)
    playing = say("Playing {count} practice sessions into {folder}/", count=len(SESSIONS), folder=folder)
    console.print(playing, markup=False)
    screen = _Screen(console, every_line)
    with screen.progress:
        made = run_demo(folder, screen.tell)
    _say(made, console)
    console.print("\n" + say("The demo took {seconds:.0f} s.", seconds=time.monotonic() - begun))
    raise SystemExit(0 if made.as_expected else 1)


def _free_folder() -> Path:
    names = chain([_DEFAULT], (f"{_DEFAULT}-{number}" for number in count(2)))
    return next(path for path in map(Path, names) if not path.exists() or not any(path.iterdir()))


class _Screen:
    """A bar for each session on a terminal; lines everywhere."""

    def __init__(self, console: Console, every_line: bool) -> None:
        self._every_line = every_line
        self.progress = Progress(
            TextColumn("{task.fields[name]:<20}"),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("{task.description}"),
            console=console,
            transient=True,
            disable=not console.is_terminal,
        )
        self._tasks = {
            name: self.progress.add_task(say("waiting"), total=None, name=name) for name in SESSIONS
        }

    def tell(self, name: str, line: LineTold) -> None:
        if line.step:
            self.progress.update(self._tasks[name], completed=line.step[0], total=line.step[1])
        self.progress.update(self._tasks[name], description=line.text[:60])
        if line.notable or self._every_line:
            self.progress.console.print(f"{name:<20} {line.text}", markup=False)


def _say(made: Demo, console: Console) -> None:
    console.print("\n" + say("The four packages, checked:"))
    for played in made.played:
        console.print()
        console.print("\n".join(lines(played.result, say)), markup=False)
        for surprise in played.surprises:
            console.print("  " + say("NOT AS THE SCRIPT EXPECTS: {what}", what=say(surprise)), markup=False)
    altered = say("One byte of {file} was altered in a copy. Checked:", file=made.altered_file)
    console.print(f"\n{altered}\n\n" + "\n".join(lines(made.altered, say)), markup=False)
    console.print(
        "\n"
        + say(
            "In {folder}/: the packages, what the check said (*.checked.txt), the jobs, and in keys/ "
            "the demo's key list. The demo's tablet key has the PIN {pin}.",
            folder=made.folder,
            pin=DEVICE_PIN,
        ),
        markup=False,
    )
