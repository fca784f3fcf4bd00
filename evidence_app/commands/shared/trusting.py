"""Whose keys a command believes: the depot's key list, and the depot's key it is signed with."""

from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any

import click

from evidence_app.commands.shared.entering import bytes_of
from evidence_app.commands.shared.paths import PATH
from evidence_app.language import say
from evidence_app.package.keys.keylist import open_key_list
from evidence_app.package.keys.timestamp import read_certificates


def with_key_list(command: Callable[..., Any]) -> Callable[..., Any]:
    """Adds ``--keys`` and ``--depot-key``; the command gets ``known``, a KeyList or None."""

    @click.option("--keys", type=PATH, help="The depot's signed key list.")
    @click.option(
        "--depot-key",
        type=PATH,
        help="The depot's public key, if you got it separately from the list. Otherwise depot-key.pem "
        "next to the list is trusted.",
    )
    @wraps(command)
    def asked(*arguments: Any, keys: Path | None, depot_key: Path | None, **options: Any) -> Any:
        if depot_key is not None and keys is None:
            raise click.UsageError(say("--depot-key is the key of a key list; give --keys too"))
        known = open_key_list(keys, depot_key) if keys is not None else None
        return command(*arguments, known=known, **options)

    return asked


def certificates_in(path: Path | None) -> bytes | None:
    """The time authorities in a PEM file, read whether or not a package has a token: a bad file
    is told, not passed over."""
    if path is None:
        return None
    pem = bytes_of(path)
    read_certificates(pem, str(path))
    return pem
