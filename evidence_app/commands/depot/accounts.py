"""``evidence-app desk accounts``: who may use the page of a team."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from evidence_app.commands.shared.entering import bytes_of
from evidence_app.commands.shared.paths import PATH
from evidence_app.desk.register import Register
from evidence_app.language import say
from evidence_app.package.zip.names import printable

if TYPE_CHECKING:
    from evidence_app.deskpage.accounts import Accounts


def accounts_path(register: Register) -> Path:
    """The accounts of a register's team lie beside it."""
    return register.path.with_name("accounts.json")


@click.group()
@click.pass_context
def accounts(context: click.Context) -> None:
    """Who may use the page of a team (desk --listen)."""
    from evidence_app.deskpage.accounts import Accounts

    context.obj = Accounts(accounts_path(context.obj))


@accounts.command("add")
@click.argument("name")
@click.option("--role", type=click.Choice(["reader", "clerk", "supervisor"]), required=True)
@click.option("--password-file", type=PATH, help="File with the password; else it is asked for.")
@click.pass_obj
def add_account(known: Accounts, name: str, role: str, password_file: Path | None) -> None:
    """Add NAME, or give that account another role and password."""
    password = (
        bytes_of(password_file).decode("utf-8", "replace").strip("\r\n")
        if password_file
        else click.prompt(say("Password"), hide_input=True, confirmation_prompt=True)
    )
    known.put(name, role, password)
    click.echo(printable(f"{name}: {role}"))


@accounts.command("remove")
@click.argument("name")
@click.pass_obj
def remove_account(known: Accounts, name: str) -> None:
    """Remove the account NAME; what it did stays in the register's history."""
    known.remove(name)
    click.echo(printable(say("removed: {name}", name=name)))


@accounts.command("list")
@click.pass_obj
def list_accounts(known: Accounts) -> None:
    """List names and roles."""
    for account in known.all():
        click.echo(printable(f"{account.role:<12}{account.name}"))
