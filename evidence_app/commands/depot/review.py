"""``evidence-app review``: a supervisor looks at a stopped repair and countersigns."""

from pathlib import Path

import click

from evidence_app.commands.depot.desk import noticed, printable_lines
from evidence_app.commands.shared.entering import opened_key
from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.commands.shared.trusting import with_key_list
from evidence_app.desk.countersign import ASK, DECISIONS
from evidence_app.desk.register import Register, default_path
from evidence_app.errors import EvidenceError
from evidence_app.language import say
from evidence_app.package.keys.keylist import KeyList
from evidence_app.sentence import sentence


@click.command()
@click.argument("package", type=PATH)
@click.option("--decide", "decision", type=click.Choice(list(DECISIONS)), help="Countersign so.")
@click.option("--reason", default="", help="What is asked for, or why.")
@click.option(
    "--want", "wanted", multiple=True, metavar="STEP", help="With ask-for-more: a step wanted again."
)
@click.option("--supervisor", help="Who countersigns.")
@click.option("--key", type=PATH, help="The supervisor's own key.")
@click.option("--pin-file", type=PATH, help="File with the PIN of the key.")
@with_key_list
@click.option("--register", "register_path", type=PATH, help="The register's file.")
@click.option("--practice", is_flag=True, help="This is meant to be a practice package.")
def review(
    package: Path,
    decision: str | None,
    reason: str,
    wanted: tuple[str, ...],
    supervisor: str | None,
    key: Path | None,
    pin_file: Path | None,
    known: KeyList | None,
    register_path: Path | None,
    practice: bool,
) -> None:
    """Show what PACKAGE says about a stop; with --decide, countersign it.

    The countersign is written beside the package, bound to its seal, and entered in the
    register when the package is in it. With --want, what is asked for is written beside it too, for
    the tablet: a folder to be copied to a disk. Steps that make the unit safe are wanted as well.
    """
    from evidence_app.desk.review import asked_in, open_review, sign_review
    from evidence_app.deskpage.shown.stopped import lines_of

    if decision and not (supervisor and key):
        raise EvidenceError(
            sentence("a countersign needs a name and a key"), remedy=sentence("give --supervisor and --key")
        )
    if wanted and decision != ASK:
        raise click.UsageError(say("--want belongs to --decide ask-for-more"))
    opened = open_review(package, known, practice)
    click.echo(printable_lines(lines_of(opened)))
    if decision is None or supervisor is None or key is None:
        raise SystemExit(opened.result.exit_status)
    path = register_path or default_path()
    register = Register(path, told=noticed) if register_path or path.exists() else None
    if register is not None:
        with register.lookup():  # what is no register is told before anything is signed
            pass
    own = opened_key(key, pin_file)
    found = sign_review(opened, decision, reason, supervisor, own, register, wanted, known)
    entered = register is not None and register.known(opened.contents.content_sha256)
    tell_user("countersigned: {path}", path=found.path)
    if wanted:
        tell_user("for the tablet's disk: {path}", path=asked_in(found))
    click.echo(
        say("entered in the register as of package {number}", number=entered)
        if entered
        else say("the package is not in the register, so nothing was entered there")
    )
