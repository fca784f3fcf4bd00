"""The ``evidence-app`` command: names, and where each one lives.

A command's module is imported only when the command is used, so that checking
a package never waits for image or sound libraries to load.

Exit status of every command: 0 done and everything holds, 1 a check fails or
something is owed, 2 the input could not be read or used.
"""

import errno
import importlib

import click

from evidence_app.errors import EvidenceError
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
    """Loads a command on demand and turns an EvidenceError into one sentence."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module, attribute, _ = COMMANDS[cmd_name]
        command = getattr(importlib.import_module(f"evidence_app.commands.{module}"), attribute)
        examples = asset("examples.txt").read_text("utf-8").splitlines()
        _end_help_with_example(command, ["evidence-app", cmd_name], examples)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, entry[2]) for name, entry in COMMANDS.items()])

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
            if (error.name or "").split(".")[0] == "evidence_app":
                raise
            told = _not_installed(error)
        click.echo(f"evidence-app: {told.sentence(say=say)}", err=True)
        ctx.exit(told.exit_status)


def _end_help_with_example(command: click.Command, path: list[str], examples: list[str]) -> None:
    """The first line of assets/examples.txt that begins with ``path``; a test runs them all."""
    example = next((line for line in examples if line.split()[: len(path)] == path), None)
    command.epilog = f"\b\nExample:\n  {example}" if example else None
    for name, inner in getattr(command, "commands", {}).items():
        _end_help_with_example(inner, [*path, name], examples)


def _of_the_system(error: OSError) -> EvidenceError:
    """What the system refused and no room put into words of its own."""
    where = "" if error.filename is None else str(error.filename)
    return EvidenceError(
        sentence("the system refused it ({value})", value=error.strerror or error),
        where=where,
        remedy=sentence("check that it exists and may be read and written, and that the disk has room"),
    )


def _not_installed(error: ModuleNotFoundError) -> EvidenceError:
    """A clerk's computer has the desk's libraries only."""
    return EvidenceError(
        sentence("{library}, which this command needs, is not installed", library=error.name),
        remedy=sentence('run: pip install "evidence-app[all]"'),
    )


def _say_release(ctx: click.Context) -> None:
    click.echo(f"evidence-app, version {release()}")
    ctx.exit()


@click.group(
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"]},
    invoke_without_command=True,
    epilog="\b\nExample:\n  evidence-app demo",
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
    help="Language of errors, checks and answers; the system's if left out.",
)
@click.pass_context
def main(context: click.Context, language: str | None) -> None:
    """Offline voice-and-photo evidence recorder for field repairs.

    Without a command: asks who you are and opens the tablet's screens or the desk's page.

    \b
    Exit status: 0 done and everything holds, 1 a check fails or something is
    owed, 2 the input could not be read or used.
    """
    use(language or of_the_system())
    if context.invoked_subcommand is None:
        from evidence_app.commands.start import ask

        ask(context)


if __name__ == "__main__":
    main()
