"""``evidence-app desk``: the register of received packages."""

import json
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from msgspec import structs

from evidence_app.commands.depot.accounts import accounts, accounts_path
from evidence_app.commands.depot.photos import photos
from evidence_app.commands.shared.entering import bytes_of, progress_bar, write_new
from evidence_app.commands.shared.paths import PATH, PLACE, in_bulk
from evidence_app.commands.shared.saying import tell_user
from evidence_app.commands.shared.trusting import certificates_in, with_key_list
from evidence_app.desk.register import COPIES, DECISIONS, PASSED_ON, RETURNED, Register, default_path
from evidence_app.desk.search import find, latest_overalls, show
from evidence_app.desk.wanted import Wanted
from evidence_app.desk.worklist import FAIL_CLASSES, WAITING
from evidence_app.errors import EvidenceError
from evidence_app.job.summary.event_sentences import outcome_words
from evidence_app.language import say
from evidence_app.package.durable import new_file
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.zip.names import printable
from evidence_app.record.clock import SystemClock

if TYPE_CHECKING:
    from evidence_app.desk.intake import Desk, Taken

_BY = click.option(
    "--by", default="desk", envvar="EVIDENCE_APP_CLERK", show_default=True, help="Who does this."
)
_PARQUET = click.option("--parquet", type=PATH, help="Write the same as Parquet, with types.")
_File = Path | None
_DATE = click.DateTime(formats=["%Y-%m-%d"])


def searching(command):
    """The options that choose packages."""
    for option in reversed(
        (
            click.option("--serial", help="Serial number of the unit."),
            click.option("--claim", help="Claim number."),
            click.option("--technician", help="Who did the repair."),
            click.option("--outcome", type=click.Choice(["completed", "stopped", "abandoned"])),
            click.option("--decision", type=click.Choice([*DECISIONS, "none"])),
            click.option("--closed-from", "since", type=_DATE, help="Closed on this day or later (UTC)."),
            click.option("--closed-to", "until", type=_DATE, help="Closed on this day or earlier (UTC)."),
            click.option("--text", help="Words in notes, transcripts and reasons."),
            click.option("--fingerprint", help="Fingerprint of the seal, or a part of it."),
            click.option("--step-list", help="Step list, or a part of its name."),
            click.option("--waiting", type=click.Choice(WAITING), help="What waits, by class."),
            click.option("--fails", "fail_class", type=click.Choice(FAIL_CLASSES), help="Why it fails."),
        )
    ):
        command = option(command)
    return command


def wanted_of(options: dict) -> Wanted:
    given: dict[str, Any] = {
        name: value.strftime("%Y-%m-%d") if isinstance(value, datetime) else value
        for name, value in options.items()
    }
    return Wanted(**given)


@click.group(invoke_without_command=True)
@click.option("--register", "path", type=PATH, help="The register's file.")
@click.option("--practice", is_flag=True, help="Page: accept practice packages, for training.")
@click.option("--by", help="Page: who works at this desk.")
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Page: port on this computer.")
@click.option("--no-browser", is_flag=True, help="Page: only say the address, open nothing.")
@click.option("--listen", metavar="ADDRESS", help="Page: serve a team at HOST:PORT, over TLS.")
@click.option("--certificate", type=PATH, help="With --listen: the certificate (PEM).")
@click.option("--key", type=PATH, help="With --listen: the certificate's key (PEM).")
@click.pass_context
def desk(
    context: click.Context,
    path: Path | None,
    practice: bool,
    by: str | None,
    port: int,
    no_browser: bool,
    listen: str | None,
    certificate: Path | None,
    key: Path | None,
) -> None:
    """Received packages: take in, look up, decide, count.

    Without a command, the desk's page is served on this computer and opened in the browser;
    with --listen it is served to the accounts of a team.
    """
    if context.invoked_subcommand is not None:
        context.obj = Register(path or default_path(), told=noticed)
        return
    from evidence_app.deskpage.accounts import Accounts
    from evidence_app.deskpage.place import DeskPlace
    from evidence_app.deskpage.serve import serve_here, serve_team
    from evidence_app.deskpage.settings import load_desk_settings

    settings = load_desk_settings()
    if by:
        settings = structs.replace(settings, clerk=by)
    found = path or (Path(settings.register) if settings.register else default_path())
    register = Register(found, told=noticed)
    if listen is None:
        if certificate or key:
            raise click.UsageError(say("--certificate and --key belong to --listen"))
        serve_here(DeskPlace(register, settings, practice), port, not no_browser, click.echo)
        return
    if certificate is None or key is None:
        raise click.UsageError(
            say("beyond this computer the page is served over TLS only; give --certificate and --key")
        )
    for pem in (certificate, key):
        bytes_of(pem)  # what is no ordinary file is refused by its name before TLS waits for it
    team = Accounts(accounts_path(register))
    serve_team(DeskPlace(register, settings, practice, team), listen, certificate, key, click.echo)


@desk.command()
@click.argument("paths", nargs=-1, required=True, type=PLACE)
@_BY
@with_key_list
@click.option("--time-authority", type=PATH, help="PEM file of authorities trusted for time.")
@click.option("--practice", is_flag=True, help="These are meant to be practice packages.")
@click.option("--check-again", is_flag=True, help="Check packages that are known once more.")
@click.option("--without-measuring", is_flag=True, help="Do not judge and measure the photos again.")
@in_bulk
@click.pass_obj
def intake(
    register: Register,
    paths: tuple[Path | str, ...],
    by: str,
    known: KeyList | None,
    time_authority: Path | None,
    practice: bool,
    check_again: bool,
    without_measuring: bool,
    **bulk: Any,
) -> None:
    """Check and enter packages: ZIP files, unpacked bags, folders and disks.

    With --workers or --scheduler they are ZIP files, folders of them, patterns, or
    s3://bucket/name in object storage; one from there is copied beside the register:
    assets/cluster.md.

    Exit status 0 when nothing fails, 1 when a check fails, a photo was shown before or two
    packages contradict each other, 2 when something could not be received.
    """
    from evidence_app.desk.intake import Desk, foreign_below, sentences

    asked = Desk(by, known, certificates_in(time_authority), practice, not without_measuring)
    here = [path for path in paths if isinstance(path, Path)]
    counts: dict[str, int] = {}
    status = 0
    if bulk["scheduler"] or bulk["workers"] or len(here) < len(paths):
        became = _taken_in_bulk(register, asked, paths, check_again, **bulk)
    else:
        became = _taken_here(register, asked, here, check_again)
    for taken in became:
        click.echo(printable_lines(sentences(taken)), err=taken.package is None)
        counts[taken.state] = counts.get(taken.state, 0) + 1
        status = max(status, _status(taken))
    for other in foreign_below(here):
        click.echo(printable_lines(sentences(other)), err=True)
    tell_user(
        "{entered} entered, {known} known, {refused} not received",
        entered=counts.get("entered", 0),
        known=counts.get("known", 0),
        refused=counts.get("not-received", 0),
    )
    raise SystemExit(status)


def _taken_here(register: Register, asked: "Desk", paths: list[Path], again: bool) -> Iterator["Taken"]:
    from evidence_app.desk.intake import Intake, listed_below, not_received

    taking = Intake(register, asked)
    packages = listed_below(paths)
    for number, path in enumerate(packages, start=1):
        if isinstance(path, EvidenceError):
            yield not_received(Path(str(path.where)), path)
            continue
        place = say("{number} of {count}", number=number, count=len(packages))
        with progress_bar(f"{place}: {path.name}") as progress:
            taken = taking.take(path, progress, again=again)
        yield taken


def _taken_in_bulk(
    register: Register, asked: "Desk", paths: Iterable[Path | str], again: bool, **bulk: Any
) -> Iterator["Taken"]:
    from evidence_app.cluster.objects import list_packages
    from evidence_app.cluster.taking import take_all

    packages = list_packages(map(str, paths))
    done, total = 0, sum(package.size for package in packages)
    coming = take_all(register, asked, packages, again, **bulk)
    while True:
        with progress_bar(say("{count} packages", count=len(packages))) as progress:
            progress(done, total)
            package, taken = next(coming, (None, None))
        if package is None or taken is None:
            return
        done += package.size
        yield taken


@desk.command("list")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line, for programs.")
@searching
@click.pass_obj
def list_(register: Register, as_json: bool, **options) -> None:
    """List packages, one a line."""
    rows = find(register, wanted_of(options))
    if as_json:
        for row in rows:
            click.echo(json.dumps(row, ensure_ascii=False))
        return
    overalls = latest_overalls(register, [row["id"] for row in rows])
    for row in rows:
        marks = "".join(f"; {mark}" for mark in _marks(row))
        decision = say(DECISIONS[row["decision"]]) if row["decision"] else say("no decision")
        click.echo(
            printable(
                f"{row['id']:>5}  {row['claim'] or '-'}  {row['serial'] or '-'}  "
                f"{say(outcome_words(row['outcome']))}  {row['technician'] or '-'}  "
                f"{(row['closed_at'] or '-')[:10]}  {decision}  "
                f"{say(overalls[row['id']])}{marks}"
            )
        )
    tell_user("{count} packages", count=len(rows))


@desk.command("show")
@click.argument("package", type=int)
@click.option("--serial", help="What is written on the unit; it is compared.")
@click.option("--claim", help="What the claim says: compared.")
@click.pass_obj
def show_(register: Register, package: int, serial: str | None, claim: str | None) -> None:
    """Show everything about package number PACKAGE.

    Exit status 1 when a serial or claim number given here is another one.
    """
    from evidence_app.desk.telling import compared
    from evidence_app.deskpage.shown.package import lines_of

    entry = show(register, package)
    click.echo(printable_lines(lines_of(entry)))
    differs = [
        compared(entry, name, typed)
        for name, typed in (("serial", serial), ("claim", claim))
        if typed is not None
    ]
    for _, told in differs:
        click.echo(printable(say(told)))
    raise SystemExit(0 if all(same for same, _ in differs) else 1)


@desk.command()
@click.argument("package", type=int)
@click.argument("decision", type=click.Choice(list(DECISIONS)))
@click.option("--reason", default="", help=f"Why; needed for {RETURNED} and {PASSED_ON}.")
@_BY
@click.pass_obj
def decide(register: Register, package: int, decision: str, reason: str, by: str) -> None:
    """Enter a decision about package number PACKAGE. Earlier ones stay and can be seen."""
    register.decide(package, decision, reason, by, SystemClock().now().wall)
    tell_user("package {package}: {decision}", package=package, decision=say(DECISIONS[decision]))


@desk.command()
@click.option("--csv", "csv_file", type=PATH, help="Write a table for a spreadsheet.")
@_PARQUET
@click.option("--json", "json_file", type=PATH, help="Write everything.")
@searching
@click.pass_obj
def export(register: Register, csv_file: _File, parquet: _File, json_file: _File, **options) -> None:
    """Write chosen packages to new files."""
    from evidence_app.desk.export import as_csv, as_json, packages_as_parquet

    if not (csv_file or parquet or json_file):
        raise click.UsageError(say("name a file with --csv, --parquet or --json"))
    rows = find(register, wanted_of(options))
    _written(
        rows, (csv_file, as_csv), (parquet, packages_as_parquet), (json_file, partial(as_json, register))
    )
    tell_user("{count} packages written", count=len(rows))


@desk.command()
@click.option(
    "--by",
    default="week",
    show_default=True,
    help="week, step-list, technician, unit-batch:N (first N characters of the "
    "serial) or part-batch:READING (a reading such as a lot number).",
)
@click.option("--hide-names", is_flag=True, help="Number technicians instead of naming them.")
@click.option("--csv", "csv_file", type=PATH, help="Write the tables for a spreadsheet.")
@click.option("--picture", type=PATH, help="Draw them: a file ending in .png or .svg.")
@searching
@click.pass_obj
def stops(
    register: Register, by: str, hide_names: bool, csv_file: _File, picture: _File, **options
) -> None:
    """Show where and why repairs stop: shares with control limits, reasons, jobs between stops."""
    from evidence_app.desk.stopped.counts import as_csv, count_stops
    from evidence_app.deskpage.shown.stops import lines_of

    counted = count_stops(register, by, wanted_of(options), hide_names)
    click.echo(printable_lines(lines_of(counted)))
    _written(counted, (csv_file, as_csv))
    if picture is not None:
        # The drawing library takes longer to load than all else here.
        from evidence_app.desk.stopped.picture import draw, save

        draw(picture, partial(save, counted))


@desk.command()
@click.option("--hide-names", is_flag=True, help="Number technicians instead of naming them.")
@click.option("--csv", "csv_file", type=PATH, help="Write every observation for a spreadsheet.")
@_PARQUET
@click.option("--picture", type=PATH, help="Draw the times: a file ending in .png or .svg.")
@click.option("--bars", type=PATH, help="Draw the scale cards' check bars: a file ending in .png or .svg.")
@searching
@click.pass_obj
def work(
    register: Register,
    hide_names: bool,
    csv_file: _File,
    parquet: _File,
    picture: _File,
    bars: _File,
    **options,
) -> None:
    """Show how the work goes: time at each step, photos taken again, findings, scale cards."""
    from evidence_app.desk.work.figures import Work, as_csv, lines_of, observations_as_parquet

    counted = Work(register, wanted_of(options), hide_names)
    click.echo(printable_lines(lines_of(counted)))
    _written(counted, (csv_file, as_csv), (parquet, observations_as_parquet))
    if picture is not None or bars is not None:
        from evidence_app.desk.stopped.picture import draw
        from evidence_app.desk.work.picture import save_bars, save_times

        for path, save in ((picture, save_times), (bars, save_bars)):
            if path is not None:
                draw(path, partial(save, counted))


@desk.command("print")
@click.argument("package", type=PATH)
@click.argument("pdf", type=PATH)
@click.option("--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)
@with_key_list
@click.option("--practice", is_flag=True, help="This is meant to be a practice package.")
@click.pass_obj
def print_(
    register: Register, package: Path, pdf: Path, paper: str, known: KeyList | None, practice: bool
) -> None:
    """Write the report of PACKAGE (a file) as a new PDF to print, with what checking finds now.

    Photos, every checksum and the fingerprint as a QR code are in it; every page carries the
    package's name and "page n of m". Its language is that of the program: evidence-app --language.
    """
    from evidence_app.desk.printing import print_report

    with new_file(pdf) as file:  # a place that takes no file is told before the work
        file.write(print_report(package, paper, known, practice, register=register))
    click.echo(printable(say("written: {path}", path=pdf)))


for group in (accounts, photos):
    desk.add_command(group)


def _written(counted: Any, *files: tuple[_File, Callable[[Any], bytes]]) -> None:
    """Each file that is wanted, new."""
    for path, made in files:
        if path is not None:
            write_new(path, made(counted))


def noticed(sentence: str) -> None:
    """Beside the command's answer, so that a list or table can still be piped on."""
    click.echo(printable(sentence), err=True)


def printable_lines(lines: Iterable[str]) -> str:
    return "\n".join(printable(line) for line in lines)


def _status(taken) -> int:
    if taken.package is None:
        return 2
    suspicious = taken.conflicts or any(each["verdict"] in COPIES for each in taken.reused)
    return max(taken.exit_status, 1 if suspicious else 0)


def _marks(row: dict) -> Iterator[str]:
    if row["photos_reused"]:
        yield say("{count} photos shown before", count=row["photos_reused"])
    if row["conflict"]:
        yield say("another package says it is of the same job")
