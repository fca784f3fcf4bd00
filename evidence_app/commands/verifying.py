"""``evidence-app verify``: check packages."""

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from evidence_app.commands.shared.entering import bytes_of, progress_bar
from evidence_app.commands.shared.many import UNREADABLE, Judged, judged_at_once, judged_by, judged_in_bulk
from evidence_app.commands.shared.paths import PATH, PLACE, in_bulk
from evidence_app.commands.shared.saying import tell_user
from evidence_app.commands.shared.trusting import certificates_in, with_key_list
from evidence_app.errors import EvidenceError, StepListError
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.verify.beside import verified
from evidence_app.package.verify.case import Asked
from evidence_app.sentence import sentence
from evidence_app.steplist.load import loads


@click.command()
@click.argument("packages", nargs=-1, required=True, type=PLACE)
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
@in_bulk
@click.option(
    "--results", type=PLACE, help="Folder or s3://bucket/name for results; what has one is left out."
)
def verify(
    packages: tuple[Path | str, ...],
    known: KeyList | None,
    time_authority: Path | None,
    step_lists: Path | None,
    as_json: bool,
    scheduler: str | None,
    workers: int | None,
    results: Path | str | None,
    time_limit: float,
    **options: Any,
) -> None:
    """Check PACKAGES: sealed ZIP files, or bags unpacked into folders.

    One package is reported check by check, several with a line each and a
    summary. Exit status 0 when nothing fails, 1 when a check fails, 2 when a
    package could not be read.

    With --workers, --scheduler or --results they are ZIP files, folders of them, patterns, or
    s3://bucket/name in object storage, told as they come: assets/cluster.md.
    """
    options = {"step_lists": None if step_lists is None else _issued(step_lists), **options}
    asked = Asked(known, certificates_in(time_authority), **options)
    paths = [each for each in packages if isinstance(each, Path)]
    if scheduler or workers or results or len(paths) < len(packages):
        alone, answers = False, judged_in_bulk(packages, asked, scheduler, workers, results, time_limit)
    else:
        alone = len(paths) == 1
        answers = _alone(paths[0], asked) if alone else judged_at_once(paths, asked)
    statuses, fields = [], []
    for answer in answers:
        statuses.append(answer.exit_status)
        if as_json:
            fields.append(answer.fields)
        else:
            told = answer.checks if alone else answer.line
            click.echo(told, err=answer.exit_status == UNREADABLE)
    if as_json:
        click.echo(json.dumps(fields, indent=2, ensure_ascii=False))
    elif not alone:
        _say_summary(statuses)
    raise SystemExit(max(statuses))


def _alone(package: Path, asked: Asked) -> Iterator[Judged]:
    with progress_bar(package.name) as progress:
        answer = judged_by(package, verified(package, asked, progress))
    yield answer


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


def _say_summary(statuses: list[int]) -> None:
    hold, unreadable = statuses.count(0), statuses.count(UNREADABLE)
    fail = len(statuses) - hold - unreadable
    tell_user(
        "{count} packages: {hold} hold, {fail} fail, {unreadable} could not be read",
        count=len(statuses), hold=hold, fail=fail, unreadable=unreadable,
    )  # fmt: skip
