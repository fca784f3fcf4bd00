"""``evidence-app desk``: the register of received packages."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from evidence_app.commands.shared.entering import bytes_of, progress_bar, write_new
from evidence_app.commands.shared.trusting import with_key_list
from evidence_app.desk.register import DECISIONS, PASSED_ON, RETURNED, Register, default_path
from evidence_app.desk.search import Wanted, find, show
from evidence_app.errors import EvidenceError
from evidence_app.language import LANGUAGES
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.keys.timestamp import read_certificates
from evidence_app.package.zip.names import printable
from evidence_app.record.clock import SystemClock

_PATH = click.Path(path_type=Path)
_BY = click.option(
    "--by", default="desk", envvar="EVIDENCE_APP_CLERK", show_default=True, help="Who does this."
)
_SHOWN_BEFORE = ("same-file", "same-picture")
_DATE = click.DateTime(formats=["%Y-%m-%d"])


def searching(command):
    """The options that choose packages."""
    for option in reversed(
        (
            click.option("--serial", help="Serial number of the device."),
            click.option("--claim", help="Claim number."),
            click.option("--technician", help="Who did the repair."),
            click.option("--outcome", type=click.Choice(["completed", "stopped", "abandoned"])),
            click.option("--decision", type=click.Choice([*DECISIONS, "none"])),
            click.option("--since", type=_DATE, help="Closed on this day or later (UTC)."),
            click.option("--until", type=_DATE, help="Closed on this day or earlier (UTC)."),
            click.option("--text", help="Words in notes, transcripts and reasons."),
        )
    ):
        command = option(command)
    return command


def wanted_of(options: dict) -> Wanted:
    return Wanted(
        **{
            name: value.strftime("%Y-%m-%d") if isinstance(value, datetime) else value
            for name, value in options.items()
        }
    )


@click.group(invoke_without_command=True)
@click.option("--register", "path", type=_PATH, help="The register's file.")
@click.option("--practice", is_flag=True, help="Windows: accept practice packages, for training.")
@click.option("--size", default="1280x800", show_default=True, help="Windows: size in pixels.")
@click.option("--language", type=click.Choice(["en", "de"]), help="Windows: language.")
@click.option("--screenshots", type=click.Path(path_type=Path, file_okay=False),
              help="Windows: write a picture of each screen into this folder.")  # fmt: skip
@click.pass_context
def desk(
    context: click.Context,
    path: Path | None,
    practice: bool,
    size: str,
    language: str | None,
    screenshots: Path | None,
) -> None:
    """Received packages: take in, look up, decide, count.

    Without a command, the desk's windows open.
    """
    context.obj = Register(path or default_path(), told=noticed)
    if context.invoked_subcommand is None:
        from evidence_app.commands.tablet import window_size
        from evidence_app.tablet.run import run

        run(size=window_size(size), practice=practice or None, language=language,
            screenshots=screenshots, first="desk", register=path)  # fmt: skip


@desk.command()
@click.argument("paths", nargs=-1, required=True, type=_PATH)
@_BY
@with_key_list
@click.option("--time-authority", type=_PATH, help="PEM file of authorities trusted for time.")
@click.option("--practice", is_flag=True, help="These are meant to be practice packages.")
@click.option("--check-again", is_flag=True, help="Check packages that are known once more.")
@click.pass_obj
def intake(
    register: Register,
    paths: tuple[Path, ...],
    by: str,
    known: KeyList | None,
    time_authority: Path | None,
    practice: bool,
    check_again: bool,
) -> None:
    """Check and enter packages: ZIP files, unpacked bags, folders and disks.

    Exit status 0 when nothing fails, 1 when a check fails, a photo was shown before or two
    packages contradict each other, 2 when something could not be received.
    """
    from evidence_app.desk.intake import Desk, Intake, not_received, packages_below, sentences

    authority = None
    if time_authority is not None:
        authority = bytes_of(time_authority)
        read_certificates(authority, str(time_authority))
    taking = Intake(register, Desk(by, known, authority, practice))
    counts: dict[str, int] = {}
    status = 0
    packages = _listed(packages_below, paths)
    for number, path in enumerate(packages, start=1):
        if isinstance(path, EvidenceError):
            taken = not_received(Path(path.where), path)
        else:
            with progress_bar(f"{number} of {len(packages)}: {path.name}") as progress:
                taken = taking.take(path, progress, again=check_again)
        click.echo(printable_lines(sentences(taken)), err=taken.package is None)
        counts[taken.state] = counts.get(taken.state, 0) + 1
        status = max(status, _status(taken))
    click.echo(
        f"{counts.get('entered', 0)} entered, {counts.get('known', 0)} known, "
        f"{counts.get('not-received', 0)} not received"
    )
    raise SystemExit(status)


@desk.command("list")
@searching
@click.pass_obj
def list_(register: Register, **options) -> None:
    """List packages, one a line."""
    rows = find(register, wanted_of(options))
    for row in rows:
        marks = "".join(f"; {mark}" for mark in _marks(row))
        click.echo(
            printable(
                f"{row['id']:>5}  {row['claim'] or '-'}  {row['serial'] or '-'}  "
                f"{row['outcome'] or '-'}  {row['technician'] or '-'}  "
                f"{(row['closed_at'] or '-')[:10]}  {row['decision'] or 'no decision'}  "
                f"{row['overall']}{marks}"
            )
        )
    click.echo(f"{len(rows)} packages")


@desk.command("show")
@click.argument("package", type=int)
@click.option("--serial", help="What stands on the device: compared.")
@click.option("--claim", help="What the claim says: compared.")
@click.pass_obj
def show_(register: Register, package: int, serial: str | None, claim: str | None) -> None:
    """Show everything about package number PACKAGE.

    Exit status 1 when a serial or claim number given here is another one.
    """
    from evidence_app.desk.telling import compared, lines_of

    entry = show(register, package)
    click.echo(printable_lines(lines_of(entry)))
    differs = [
        compared(entry, name, typed)
        for name, typed in (("serial", serial), ("claim", claim))
        if typed is not None
    ]
    for _, sentence in differs:
        click.echo(printable(sentence))
    raise SystemExit(0 if all(same for same, _ in differs) else 1)


@desk.command()
@click.argument("package", type=int)
@click.argument("decision", type=click.Choice(DECISIONS))
@click.option("--reason", default="", help=f"Why; needed for {RETURNED} and {PASSED_ON}.")
@_BY
@click.pass_obj
def decide(register: Register, package: int, decision: str, reason: str, by: str) -> None:
    """Enter a decision about package number PACKAGE. Earlier ones stay and can be seen."""
    register.decide(package, decision, reason, by, SystemClock().now().wall)
    click.echo(f"package {package}: {decision}")


@desk.command()
@click.option("--csv", "csv_file", type=_PATH, help="Write a table for a spreadsheet.")
@click.option("--json", "json_file", type=_PATH, help="Write everything.")
@searching
@click.pass_obj
def export(register: Register, csv_file: Path | None, json_file: Path | None, **options) -> None:
    """Write chosen packages to new files."""
    from evidence_app.desk.export import as_csv, as_json

    if csv_file is None and json_file is None:
        raise click.UsageError("name a file with --csv or --json")
    rows = find(register, wanted_of(options))
    if csv_file is not None:
        write_new(csv_file, as_csv(rows))
    if json_file is not None:
        write_new(json_file, as_json(register, rows))
    click.echo(f"{len(rows)} packages written")


@desk.command()
@click.option(
    "--by",
    default="week",
    show_default=True,
    help="week, step-list, technician, device-batch:N (first N characters of the "
    "serial) or part-batch:READING (a reading such as a lot number).",
)
@click.option("--hide-names", is_flag=True, help="Number technicians instead of naming them.")
@click.option("--csv", "csv_file", type=_PATH, help="Write the tables for a spreadsheet.")
@click.option("--picture", type=_PATH, help="Draw them: a file ending in .png or .svg.")
@searching
@click.pass_obj
def stops(
    register: Register,
    by: str,
    hide_names: bool,
    csv_file: Path | None,
    picture: Path | None,
    **options,
) -> None:
    """Show where and why repairs stop: shares with control limits, and reasons."""
    from evidence_app.desk.stopped.counts import as_csv, count_stops, draw, lines_of

    counted = count_stops(register, by, wanted_of(options), hide_names)
    click.echo(printable_lines(lines_of(counted)))
    if csv_file is not None:
        write_new(csv_file, as_csv(counted))
    if picture is not None:
        draw(counted, picture)


@desk.command("print")
@click.argument("package", type=_PATH)
@click.argument("pdf", type=_PATH)
@click.option("--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)
@with_key_list
@click.option("--practice", is_flag=True, help="This is meant to be a practice package.")
@click.option(
    "--language",
    type=click.Choice(list(LANGUAGES)),
    default="en",
    show_default=True,
    help="The reader's language.",
)
def print_(
    package: Path, pdf: Path, paper: str, known: KeyList | None, practice: bool, language: str
) -> None:
    """Write the report of PACKAGE (a file) as a new PDF to print, with what checking finds now.

    Photos, every checksum and the fingerprint as a QR code are in it; every page carries the
    package's name and "page n of m".
    """
    from evidence_app.desk.printing import print_report

    write_new(pdf, print_report(package, paper, known, practice, language=language))
    click.echo(printable(f"written: {pdf}"))


@desk.group()
def photos() -> None:
    """The index of photos."""


@photos.command()
@click.pass_obj
def rebuild(register: Register) -> None:
    """Make the photo index again from the register, and hash what was not hashed yet."""
    from evidence_app.desk.intake import hash_missing_photos
    from evidence_app.desk.photos.index import PhotoIndex

    entered, problems = hash_missing_photos(register)
    for problem in problems:
        click.echo(printable(problem), err=True)
    count = PhotoIndex(register).rebuild()
    click.echo(f"{entered} photos hashed, {count} photos in the index")
    raise SystemExit(1 if problems else 0)


@photos.command()
@click.argument("package", type=int)
@click.argument("folder", type=_PATH)
@click.pass_obj
def pairs(register: Register, package: int, folder: Path) -> None:
    """Write each photo of PACKAGE that resembles an earlier one, beside that, into FOLDER."""
    from evidence_app.desk.photos.pairs import pairs_of

    folder.mkdir(parents=True, exist_ok=True)
    found = pairs_of(register, package)
    for number, (row, picture) in enumerate(found, start=1):
        click.echo(printable(f"{row['path']}: {row['sentence']}"))
        if picture is None:
            click.echo("  one of the two packages is not there any more, so there is no picture")
        else:
            path = folder / f"package-{package}-pair-{number}.jpg"
            write_new(path, picture)
            click.echo(f"  {path}")
    before = sum(row["verdict"] in _SHOWN_BEFORE for row, _ in found)
    click.echo(f"{before} photos were shown before, {len(found) - before} only look alike")


def noticed(sentence: str) -> None:
    """Beside the command's answer, so that a list or table can still be piped on."""
    click.echo(printable(sentence), err=True)


def printable_lines(lines: list[str]) -> str:
    return "\n".join(printable(line) for line in lines)


def _listed(packages_below, paths: tuple[Path, ...]) -> list[Path | EvidenceError]:
    """The packages of each path; an error in the place of a path that has none."""
    found: list[Path | EvidenceError] = []
    for path in paths:
        try:
            found += packages_below([path])
        except EvidenceError as error:
            found.append(error)
    return found


def _status(taken) -> int:
    if taken.package is None:
        return 2
    suspicious = taken.conflicts or any(each["verdict"] in _SHOWN_BEFORE for each in taken.reused)
    return max(taken.exit_status, 1 if suspicious else 0)


def _marks(row: dict) -> list[str]:
    marks = []
    if row["photos_reused"]:
        marks.append(f"{row['photos_reused']} photos shown before")
    if row["conflict"]:
        marks.append("another package says it is of the same job")
    return marks
