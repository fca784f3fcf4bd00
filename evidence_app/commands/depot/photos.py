"""``evidence-app desk photos``: the index of photos, and photos shown before beside the earlier ones."""

from pathlib import Path

import click

from evidence_app.commands.shared.entering import write_new
from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.desk.register import COPIES, Register
from evidence_app.language import say
from evidence_app.package.zip.names import printable


@click.group()
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
    tell_user("{entered} photos hashed, {count} photos in the index", entered=entered, count=count)
    raise SystemExit(1 if problems else 0)


@photos.command()
@click.argument("package", type=int)
@click.argument("folder", type=PATH)
@click.option("--possible", is_flag=True, help="Possible copies too.")
@click.pass_obj
def pairs(register: Register, package: int, folder: Path, possible: bool) -> None:
    """Write each photo of PACKAGE that was shown before, beside the earlier one, into FOLDER."""
    from evidence_app.desk.photos.pairs import pairs_of

    folder.mkdir(parents=True, exist_ok=True)
    found = pairs_of(register, package, possible)
    for number, (row, picture) in enumerate(found, start=1):
        click.echo(printable(f"{row['path']}: {row['sentence']}"))
        if picture is None:
            click.echo("  " + say("one of the two packages is not there any more, so there is no picture"))
        else:
            path = folder / f"package-{package}-pair-{number}.jpg"
            write_new(path, picture)
            click.echo(f"  {path}")
    before = sum(row["verdict"] in COPIES for row, _ in found)
    possibly = len(found) - before
    tell_user("{count} photos were shown before, {possibly} possibly", count=before, possibly=possibly)
