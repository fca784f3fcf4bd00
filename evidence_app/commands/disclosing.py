"""``evidence-app disclose``: a copy of a package in which photos or notes are withheld."""

from pathlib import Path

import click

from evidence_app.commands.shared.paths import PATH
from evidence_app.language import say
from evidence_app.package.disclose import disclose as disclose_package
from evidence_app.package.verify.check import verify
from evidence_app.package.verify.result import lines


@click.command()
@click.argument("package", type=PATH)
@click.argument("out", type=PATH)
@click.option(
    "--withhold",
    multiple=True,
    metavar="NAME",
    help="Photo or note to leave out, as it is called in the package; * stands for anything.",
)
@click.option("--roles", is_flag=True, help="Replace people's full names in the journal by roles.")
@click.option("--with-location", is_flag=True, help="Disclose photos that say where they were taken.")
def disclose(package: Path, out: Path, withhold: tuple[str, ...], roles: bool, with_location: bool) -> None:
    """Write to OUT a copy of PACKAGE in which photos and notes are withheld.

    Their checksums stay, everything else still verifies, and the copy says that it is one; what
    checking it gives is shown. The report is always withheld, and so are drawings on a withheld
    photo. The journal stays as it is, with written notes and what was written down of spoken ones;
    with --roles the full names in it that it knows, of the technician and of whom a stop named,
    are replaced ("technician 1"), and the summary is withheld. Other names, voices and faces are
    not found: look through notes and photos. Who has a list of names can try which one fits.
    """
    disclose_package(package, out, withhold, with_location, roles)
    result = verify(out, accept_practice=True, disclosed=True)
    click.echo("\n".join(lines(result, say)))
