"""``evidence-app desk accounts``: who may use the page of a team."""

from pathlib import Path

import click

from evidence_app.commands.shared.entering import bytes_of
from evidence_app.commands.shared.paths import PATH
from evidence_app.desk.register import Register
from evidence_app.language import say
from evidence_app.package.zip.names import printable


def accounts_path(register: Register) -> Path:
    """The accounts of a register's team lie beside it."""
    return register.path.with_name("accounts.json")


@click.group()
def accounts() -> None:
    """Who may use the page of a team (desk --listen)."""


@accounts.command("add")
@click.argument("name")
@click.option("--role", type=click.Choice(["reader", "clerk", "supervisor"]), required=True)
@click.option("--password-file", type=PATH, help="File with the password; else it is asked for.")
@click.pass_obj
def add_account(register: Register, name: str, role: str, password_file: Path | None) -> None:
    """Add NAME, or give that account another role and password."""
    from evidence_app.deskpage.accounts import Accounts

    password = (
        bytes_of(password_file).decode("utf-8", "replace").strip("\r\n")
        if password_file
        else click.prompt(say("Password"), hide_input=True, confirmation_prompt=True)
    )
    Accounts(accounts_path(register)).put(name, role, password)
    click.echo(printable(f"{name}: {role}"))


@accounts.command("remove")
@click.argument("name")
@click.pass_obj
def remove_account(register: Register, name: str) -> None:
    """Remove the account NAME; what it did stays in the register's history."""
    from evidence_app.deskpage.accounts import Accounts

    Accounts(accounts_path(register)).remove(name)
    click.echo(printable(say("removed: {name}", name=name)))


@accounts.command("list")
@click.pass_obj
def list_accounts(register: Register) -> None:
    """List names and roles."""
    from evidence_app.deskpage.accounts import Accounts

    for account in Accounts(accounts_path(register)).all():
        click.echo(printable(f"{account.role:<12}{account.name}"))
