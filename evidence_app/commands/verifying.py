"""``evidence-app verify``: check packages."""

import hashlib
import json
from pathlib import Path

import click

from evidence_app.commands.shared.entering import bytes_of, progress_bar
from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.commands.shared.trusting import certificates_in, with_key_list
from evidence_app.errors import EvidenceError, StepListError
from evidence_app.language import say
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.verify.check import verify as verify_package
from evidence_app.package.verify.result import VerifyResult, lines, to_json
from evidence_app.sentence import sentence
from evidence_app.steplist.load import loads

_UNREADABLE = 2


@click.command()
@click.argument("packages", nargs=-1, required=True, type=PATH)
@with_key_list
@click.option("--time-authority", type=PATH, help="PEM file of authorities trusted for time.")
@click.option(
    "--practice", "accept_practice", is_flag=True, help="These are meant to be practice packages."
)
@click.option(
    "--step-lists",
    type=PATH,
    help="Folder with the step lists that were issued; a job by another one fails.",
)
@click.option("--measure-again", is_flag=True, help="Judge and measure every photo again; takes its time.")
@click.option(
    "--other-wording",
    is_flag=True,
    help="Let a summary or report of another version of the app pass when its facts hold.",
)
@click.option("--disclosed", is_flag=True, help="Let disclosed copies pass, from which files are withheld.")
@click.option("--json", "as_json", is_flag=True, help="Print the results as JSON.")
def verify(
    packages: tuple[Path, ...],
    known: KeyList | None,
    time_authority: Path | None,
    step_lists: Path | None,
    as_json: bool,
    **asked: bool,
) -> None:
    """Check PACKAGES: sealed ZIP files, or bags unpacked into folders.

    One package is reported check by check, several with a line each and a
    summary. Exit status 0 when nothing fails, 1 when a check fails, 2 when a
    package could not be read.
    """
    authority = certificates_in(time_authority)
    issued = None if step_lists is None else _issued(step_lists)
    results: list[VerifyResult | EvidenceError] = []
    for package in packages:
        with progress_bar(package.name) as progress:
            try:
                result: VerifyResult | EvidenceError = verify_package(
                    package, known, authority, progress, step_lists=issued, **asked
                )
            except EvidenceError as error:
                result = error
        results.append(result)
        if not as_json:
            _say(package, result, alone=len(packages) == 1)
    if as_json:
        click.echo(
            json.dumps(
                [_as_json(p, r) for p, r in zip(packages, results, strict=True)],
                indent=2,
                ensure_ascii=False,
            )
        )
    elif len(packages) > 1:
        _say_summary(results)
    raise SystemExit(max(_status(result) for result in results))


def _issued(folder: Path) -> dict[tuple[str, str], str]:
    """SHA-256 of each step list in a folder by its id and version."""
    found = {}
    for path in sorted(folder.glob("*.toml")):
        data = bytes_of(path)
        try:
            step_list = loads(data, str(path))
        except StepListError:
            continue  # another file of the folder; a job by a list that is not here fails
        found[step_list.id, step_list.version] = hashlib.sha256(data).hexdigest()
    if not found:
        raise EvidenceError(
            sentence("there is no step list in this folder"),
            where=str(folder),
            remedy=sentence("name the folder with the .toml files that were issued"),
        )
    return found


def _say(package: Path, result: VerifyResult | EvidenceError, alone: bool) -> None:
    if isinstance(result, EvidenceError):
        told = sentence("could not be read: {problem}", problem=result.sentence(say=say))
        tell_user(told, err=True)
    elif alone:
        click.echo("\n".join(lines(result, say)))
    else:
        click.echo(f"{package}: {say(result.overall)}")


def _say_summary(results: list[VerifyResult | EvidenceError]) -> None:
    hold = sum(_status(result) == 0 for result in results)
    unreadable = sum(_status(result) == _UNREADABLE for result in results)
    fail = len(results) - hold - unreadable
    tell_user(
        "{count} packages: {hold} hold, {fail} fail, {unreadable} could not be read",
        count=len(results), hold=hold, fail=fail, unreadable=unreadable,
    )  # fmt: skip


def _status(result: VerifyResult | EvidenceError) -> int:
    return _UNREADABLE if isinstance(result, EvidenceError) else result.exit_status


def _as_json(package: Path, result: VerifyResult | EvidenceError) -> dict:
    if isinstance(result, EvidenceError):
        return {"package": str(package), "exit_status": _UNREADABLE, "error": result.sentence()}
    return to_json(result)
