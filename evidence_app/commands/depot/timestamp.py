"""``evidence-app timestamp``: an RFC 3161 time token for a seal."""

from pathlib import Path

import click

from evidence_app.commands.shared.entering import bytes_of, write_new
from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.package.keys.timestamp import attach_token, make_request


@click.group()
def timestamp() -> None:
    """An RFC 3161 time token for a seal.

    The app asks no server: carry the request to a time authority and bring its
    answer back. The token shows that the seal existed at its time.
    """


@timestamp.command()
@click.argument("package", type=PATH)
@click.argument("out", type=PATH)
def request(package: Path, out: Path) -> None:
    """Write the request for PACKAGE to OUT (a .tsq file)."""
    write_new(out, make_request(package))
    tell_user("request: {path}", path=out)


@timestamp.command()
@click.argument("package", type=PATH)
@click.argument("token", type=PATH)
def attach(package: Path, token: Path) -> None:
    """Attach the authority's answer TOKEN (a .tsr file) to PACKAGE."""
    time = attach_token(package, bytes_of(token))
    tell_user("attached: the token says {at}", at=time.at.isoformat())
