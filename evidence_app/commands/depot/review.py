"""``evidence-app review``: a supervisor looks at a stopped repair and countersigns."""

from collections.abc import Iterator
from pathlib import Path

import click

from evidence_app.commands.depot.desk import noticed, printable_lines
from evidence_app.commands.shared.entering import opened_key
from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.commands.shared.trusting import with_key_list
from evidence_app.desk.countersign import DECISIONS
from evidence_app.desk.register import Register, default_path
from evidence_app.desk.review import Review, open_review, sign_review
from evidence_app.deskpage.shown.stopped import Stopped, signed_words, stopped_of
from evidence_app.errors import EvidenceError
from evidence_app.language import say
from evidence_app.package.keys.keylist import KeyList
from evidence_app.sentence import sentence


@click.command()
@click.argument("package", type=PATH)
@click.option("--decide", "decision", type=click.Choice(list(DECISIONS)), help="Countersign so.")
@click.option("--reason", default="", help="What is asked for, or why.")
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
    supervisor: str | None,
    key: Path | None,
    pin_file: Path | None,
    known: KeyList | None,
    register_path: Path | None,
    practice: bool,
) -> None:
    """Show what PACKAGE says about a stop; with --decide, countersign it.

    The countersign is written beside the package, bound to its seal, and entered in the
    register when the package is in it.
    """
    if decision and not (supervisor and key):
        raise EvidenceError(
            sentence("a countersign needs a name and a key"), remedy=sentence("give --supervisor and --key")
        )
    opened = open_review(package, known, practice)
    click.echo(printable_lines(list(lines_of(opened))))
    if decision is None or supervisor is None or key is None:
        raise SystemExit(opened.result.exit_status)
    path = register_path or default_path()
    register = Register(path, told=noticed) if register_path or path.exists() else None
    if register is not None:
        with register.lookup():  # what is no register is told before anything is signed
            pass
    found = sign_review(opened, decision, reason, supervisor, opened_key(key, pin_file), register)
    entered = register is not None and register.known(opened.contents.content_sha256)
    tell_user("countersigned: {path}", path=found.path)
    click.echo(
        say("entered in the register as of package {number}", number=entered)
        if entered
        else say("the package is not in the register, so nothing was entered there")
    )


def lines_of(review: Review) -> Iterator[str]:
    """The review's material as plain lines, in the words of the desk's page."""
    seal, summary, stopped = review.seal, review.summary, stopped_of(review)
    yield review.package.name
    yield "  " + say(review.result.overall)
    named = {"claim": seal.claim, "serial": seal.serial, "technician": summary.identity.technician or "–"}
    step_list = f"{seal.step_list.id} {seal.step_list.version}"
    yield "  " + say(
        "claim {claim}, serial {serial}, {technician}, step list {step_list}", step_list=step_list, **named
    )
    yield "  " + say(summary.outcome.sentence)
    if stopped is None:
        yield "  " + say("This repair was not stopped by a rule.")
    else:
        yield from (f"    {line}" for line in _stop_lines(stopped))
    for note in summary.clock_notes:
        yield "  " + say(sentence("clock: {what}", what=note.sentence))
    for found in review.countersigns:
        yield "  " + say("countersign: {what}", what=signed_words(found))


def _stop_lines(stopped: Stopped) -> Iterator[str]:
    yield say("Reason: {reason}", reason=stopped.because)
    yield say("Disposition: {disposition}", disposition=stopped.disposition)
    yield from (f"{name}: {value}" for name, value in stopped.facts)
    yield from stopped.prohibitions
    yield stopped.kept
    yield from (say("required afterwards: {what}", what=what) for what, _ in stopped.owed)
    yield from (f"{note.words}: {note.said}" for note in stopped.notes)
    for picture in stopped.pictures:
        yield f"{picture.path or '–'}: {picture.title}. {picture.words}"
        yield from (f"  {words}: {path}" for words, path in picture.beside)
