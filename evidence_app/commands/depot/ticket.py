"""``evidence-app ticket``: tickets that bound a job's beginning."""

from pathlib import Path

import click

from evidence_app.commands.shared.entering import bytes_of, opened_key, write_new
from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.language import say
from evidence_app.package.keys.keylist import open_key_list
from evidence_app.package.keys.ticket import check_ticket, make_ticket, read_ticket


@click.group()
def ticket() -> None:
    """Tickets that bound a job's beginning.

    A job that holds a ticket cannot have begun before the depot made it.
    """


@ticket.command()
@click.argument("out", type=PATH)
@click.option("--depot", required=True, help="Name of the depot.")
@click.option("--claim", help="Only for this claim.")
@click.option("--depot-key", type=PATH, required=True, help="The depot's own key.")
@click.option("--pin-file", type=PATH, help="File with the PIN of the key.")
def make(out: Path, depot: str, claim: str | None, depot_key: Path, pin_file: Path | None) -> None:
    """Make a ticket in OUT and its signature in OUT.sig."""
    data, signature = make_ticket(opened_key(depot_key, pin_file), depot, claim)
    write_new(out, data)
    write_new(out.with_name(f"{out.name}.sig"), signature)
    tell_user("ticket: {path}", path=out)


@ticket.command()
@click.argument("file", type=PATH)
@click.option("--keys", "key_list", type=PATH, required=True, help="The depot's key list.")
def check(file: Path, key_list: Path) -> None:
    """Check the ticket in FILE against the depot's key."""
    data, signature = bytes_of(file), bytes_of(file.with_name(f"{file.name}.sig"))
    key = open_key_list(key_list).signer_of(read_ticket(data, str(file)))
    found = check_ticket(data, signature, key, str(file))
    told = say("holds: issued by {depot} at {at}", depot=found.depot, at=found.issued_at)
    click.echo(told + (say(", only for claim {claim}", claim=found.claim) if found.claim else ""))
