"""``evidence-app kit``: a folder from which a tablet without network is set up."""

from pathlib import Path
from typing import Any

import click

from evidence_app.commands.shared.entering import opened_key
from evidence_app.commands.shared.paths import FILE, PATH
from evidence_app.commands.shared.saying import tell_user


@click.group()
def kit() -> None:
    """Set up a tablet that has no network."""


@kit.command()
@click.argument("out", type=PATH)
@click.option("--depot-key", type=FILE, required=True, help="The depot's own key; signs the kit.")
@click.option("--pin-file", type=FILE, help="A file that holds the key's PIN.")
@click.option("--step-list", "step_lists", type=FILE, multiple=True, help="May be given again.")
@click.option("--key-list", type=FILE, help="The depot's signed key list.")
@click.option("--wheel", type=FILE, help="The app's wheel, where this is no checkout.")
def make(out: Path, depot_key: Path, pin_file: Path | None, **parts: Any) -> None:
    """Write the kit into the new folder OUT. Needs a network.

    Copy OUT to a disk; on the tablet, run `sh install` in it.
    """
    from evidence_app.machine.kit import make_kit

    make_kit(out, opened_key(depot_key, pin_file), **parts, tell=click.echo)
    size = sum(path.stat().st_size for path in out.rglob("*") if path.is_file())
    tell_user("{out}: {size:.0f} MB. On the tablet, in this folder: sh install", out=out, size=size / 1e6)
