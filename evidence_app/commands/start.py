"""``evidence-app`` without a command: which of its three users is there, and their window."""

import os
import sys

import click

from evidence_app.commands.shared.saying import tell_user
from evidence_app.language import say

_USERS = {"technician": "tablet", "clerk": "desk", "supervisor": "desk"}


def ask(context: click.Context) -> None:
    """Ask who is there and open the tablet's screens or the desk's page; without a screen or
    nobody to ask, show the help."""
    shown = os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    if not sys.stdin.isatty() or (sys.platform.startswith("linux") and not shown):
        click.echo(context.get_help())
        return
    user = click.prompt(say("Who are you"), type=click.Choice(list(_USERS)))
    if user == "supervisor":
        tell_user("Repairs to review are under “{list}”.", list=say("Stopped, not reviewed"))
    group = context.command
    if isinstance(group, click.Group) and (command := group.get_command(context, _USERS[user])):
        with command.make_context(_USERS[user], [], parent=context) as chosen:
            command.invoke(chosen)
