"""The ``evidence-app`` command: names, and where each one lives.

A command's module is imported only when the command is used, so that checking
a package never waits for image or sound libraries to load.

Exit status of every command: 0 done and everything holds, 1 a check fails or
something is owed, 2 the input could not be read or used.
"""

import errno
import gettext
import importlib
import os
from contextlib import suppress
from copy import copy
from inspect import cleandoc
from typing import Any

import click

from evidence_app.errors import EvidenceError, not_installed
from evidence_app.language import LANGUAGES, of_the_system, say, use
from evidence_app.locations import asset
from evidence_app.release import release
from evidence_app.sentence import sentence

# name on the command line -> (module in evidence_app.commands, attribute, one line of help)
COMMANDS = {
    "steps": ("steps", "steps", "Check and show step lists."),
    "job": ("job", "job", "Run a step list on one unit from the command line."),
    "seal": ("sealing", "seal", "Seal a closed job into a package."),
    "verify": ("verifying", "verify", "Check packages."),
    "disclose": ("disclosing", "disclose", "Copy a package with photos or notes left out."),
    "keys": ("depot.keys", "keys", "Tablets' keys and the depot's key list."),
    "ticket": ("depot.ticket", "ticket", "Depot tickets: proof that a job did not start earlier."),
    "timestamp": ("depot.timestamp", "timestamp", "RFC 3161 time-stamp of a seal."),
    "desk": ("depot.desk", "desk", "Received packages: take in, look up, decide, count."),
    "review": ("depot.review", "review", "A supervisor's review of a stopped repair, countersigned."),
    "tablet": ("tablet", "tablet", "The technician's app on a touch screen."),
    "card": ("card", "card", "Print the scale card and confirm a printed batch."),
    "measure": ("measure", "measure", "Measure on a photo outside a job."),
    "devices": ("devices", "devices", "Try cameras and microphones."),
    "voice": ("voice", "voice", "Try spoken commands and write down notes."),
    "kit": ("depot.kit", "kit", "Set up a tablet that has no network."),
    "ready": ("ready", "ready", "Try what this machine has: camera, sound, screen, disk, keys."),
    "about": ("about", "about", "Version, licence, and the libraries with theirs."),
    "demo": ("demo", "demo", "Play the four sample sessions and check what comes out."),
}


class _Commands(click.Group):
    """Loads a command on demand, says its help in the language in use, and turns an
    EvidenceError into one sentence."""

    def main(self, *arguments: Any, **options: Any) -> Any:
        before = os.environ.get("LANGUAGE")
        try:
            return super().main(*arguments, **options)
        finally:
            if before is None:
                os.environ.pop("LANGUAGE", None)
            else:
                os.environ["LANGUAGE"] = before

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        _speak(of_the_system())
        return super().parse_args(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module, attribute, _ = COMMANDS[cmd_name]
        command = getattr(importlib.import_module(f"evidence_app.commands.{module}"), attribute)
        return _worded(command, ["evidence-app", cmd_name], _examples())

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        click.Group.format_help(_worded(self, ["evidence-app"], _examples()), ctx, formatter)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section(gettext.gettext("Commands")):
            formatter.write_dl([(name, say(entry[2])) for name, entry in COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> object:
        try:
            return super().invoke(ctx)
        except EvidenceError as error:
            told = error
        except OSError as error:
            if error.errno == errno.EPIPE:  # whoever read the output has seen enough
                raise
            told = _of_the_system(error)
        except ModuleNotFoundError as error:
            told = not_installed(error)
        click.echo(f"evidence-app: {told.sentence(say=say)}", err=True)
        ctx.exit(told.exit_status)


def _speak(language: str) -> None:
    """``language`` from now on. Click asks gettext for its own words, and that the environment."""
    use(language)
    os.environ["LANGUAGE"] = language
    with suppress(EvidenceError):  # without the catalogues all is said in English
        gettext.bindtextdomain("messages", asset("locale/click"))


def _examples() -> list[str]:
    return asset("examples.txt").read_text("utf-8").splitlines()


def _worded(command: click.Command, path: list[str], examples: list[str]) -> click.Command:
    """A copy whose help is in the language in use and ends with an example: the first line of
    assets/examples.txt that begins with ``path``; a test runs them all."""
    told = copy(command)
    told.help = say(cleandoc(command.help or ""))
    told.params = [copy(each) for each in command.params]
    for each in told.params:
        if isinstance(each, click.Option) and each.help:
            each.help = say(each.help)
    example = next((line for line in examples if line.split()[: len(path)] == path), None)
    told.epilog = "\b\n" + say("Example:") + f"\n  {example}" if example else None
    if isinstance(told, click.Group):
        inner = told.commands.items()
        told.commands = {name: _worded(each, [*path, name], examples) for name, each in inner}
    return told


def _of_the_system(error: OSError) -> EvidenceError:
    """What the system refused and no room put into words of its own."""
    where = "" if error.filename is None else str(error.filename)
    return EvidenceError(
        sentence("the system refused it ({value})", value=error.strerror or error),
        where=where,
        remedy=sentence("check that it exists and may be read and written, and that the disk has room"),
    )


def _say_release(ctx: click.Context) -> None:
    click.echo(f"evidence-app, version {release()}")
    ctx.exit()


@click.group(
    cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]}, invoke_without_command=True
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=lambda ctx, _, asked: _say_release(ctx) if asked else None,
    help="Show version and commit and exit.",
)
@click.option(
    "--language",
    type=click.Choice(list(LANGUAGES)),
    is_eager=True,  # before the help, which is in this language
    expose_value=False,
    callback=lambda ctx, _, asked: _speak(asked) if asked else None,
    help="Language of errors, checks and answers; the system's if left out.",
)
@click.help_option("-h", "--help", help="Show this message and exit.")
@click.pass_context
def main(context: click.Context) -> None:
    """Offline voice-and-photo evidence recorder for field repairs.

    Without a command: asks who you are and opens the tablet's screens or the desk's page.

    \b
    Exit status: 0 done and everything holds, 1 a check fails or something is
    owed, 2 the input could not be read or used.
    """
    if context.invoked_subcommand is None:
        from evidence_app.commands.start import ask

        ask(context)


if __name__ == "__main__":
    main()
