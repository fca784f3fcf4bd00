"""``evidence-app keys``: device keys and the depot's key list."""

import os
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

import click
import msgspec

from evidence_app.commands.shared.entering import bytes_of, make_folder, opened_key, pin_of, write_new
from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.errors import SigningKeyError, turned
from evidence_app.language import say, say_many
from evidence_app.locations import device_key_path
from evidence_app.package.keys import transport
from evidence_app.package.keys.handover import hand_over, replace_key
from evidence_app.package.keys.keylist import DeviceKey, open_key_list, sign_key_list, write_key_list
from evidence_app.package.keys.signing_key import SigningKey, create_key, key_sha256, read_public_key
from evidence_app.record.clock import SystemClock
from evidence_app.record.times import parse
from evidence_app.sentence import sentence, sentences_beside

_WORDS = sentences_beside(__file__)
_DEPOT_KEY = click.option("--depot-key", type=PATH, required=True, help="The depot's own key.")
_PIN_FILE = click.option("--pin-file", type=PATH, help="File with the PIN of the key.")


@click.group()
def keys() -> None:
    "Tablets' keys and the depot's key list."


@keys.command()
@click.argument("path", type=PATH, required=False)
@click.option("--pin-file", type=PATH, help="File with the new PIN; otherwise asked for.")
@click.option("--unencrypted", is_flag=True, help="No PIN: only when the depot says so.")
def make(path: Path | None, pin_file: Path | None, unencrypted: bool) -> None:
    """Make a signing key in PATH, by default the one of this machine.

    The public key is written beside it as NAME.public.pem, for the depot.
    """
    path = path or device_key_path()
    make_folder(path.parent)
    pin = None if unencrypted else pin_of(pin_file, confirm=True)
    key = create_key(path, pin, unencrypted=unencrypted)
    write_new(path.with_suffix(".public.pem"), key.public_pem)
    _say_made(key.sha256, path)


@keys.command("hand-over")
@click.argument("new_key", type=PATH, required=False)
@click.option("--key", type=PATH, help="The old key; by default the one of this machine.")
@click.option("--reason", required=True, help="Why, in your own words.")
@_PIN_FILE
@click.option("--new-pin-file", type=PATH, help="File with the new key's PIN; otherwise asked for.")
def hand_over_to(
    new_key: Path | None, key: Path | None, reason: str, pin_file: Path | None, new_pin_file: Path | None
) -> None:
    """Sign over from this tablet's key to a new one, so that packages sealed with it are known.

    A new key is made in the place of the old one, which stays beside it under its SHA-256. With
    NEW_KEY, the public half of a key that was made elsewhere, only the handover is written,
    beside it. The new key is valid as long as the old one, until the depot lists it itself.
    """
    if not reason.strip():
        raise SigningKeyError.worded(_WORDS["no-reason"], "--reason")
    path, now = key or device_key_path(), SystemClock().now().wall
    old = opened_key(path, pin_file)
    if new_key is not None:
        new = read_public_key(bytes_of(new_key), str(new_key))
        tell_user(hand_over(old, new, now, reason, new_key.parent).told)
        return
    link = replace_key(path, old, pin_of(new_pin_file, confirm=True), now, reason)
    _say_made(link.new, path)
    tell_user(link.told)


def _say_made(sha256: str, path: Path) -> None:
    tell_user("key made: {path}", path=path)
    tell_user("public key: {path}", path=path.with_suffix(".public.pem"))
    tell_user("SHA-256 of the key: {digest}", digest=sha256)


@keys.command()
@click.argument("public_key", type=PATH)
def digest(public_key: Path) -> None:
    """Show the SHA-256 by which key lists and seals name PUBLIC_KEY (a PEM file)."""
    click.echo(key_sha256(read_public_key(bytes_of(public_key), str(public_key))))


@keys.command()
@click.argument("key_list", type=PATH)
@click.argument("public_key", type=PATH)
@click.option("--owner", required=True, help="Who uses the tablet; several people with semicolons between.")
@click.option("--label", required=True, help="Which tablet it is.")
@click.option("--valid-from", required=True, help="RFC 3339 time with offset.")
@click.option("--valid-until", required=True, help="RFC 3339 time with offset.")
@click.option("--depot", help="Name of the depot, for a new list.")
@_DEPOT_KEY
@_PIN_FILE
def enter(
    key_list: Path,
    public_key: Path,
    owner: str,
    label: str,
    valid_from: str,
    valid_until: str,
    depot: str | None,
    depot_key: Path,
    pin_file: Path | None,
) -> None:
    """Enter PUBLIC_KEY into KEY_LIST and sign the list with the depot's key."""
    sha256 = key_sha256(read_public_key(bytes_of(public_key), str(public_key)))
    entry = DeviceKey(sha256, owner, label, _time(valid_from), _time(valid_until))
    if os.path.lexists(key_list):
        old = open_key_list(key_list)
        depot, entries = depot or old.depot, (*old.device_keys, entry)
    else:
        entries = (entry,)
    if not depot:
        raise SigningKeyError.worded(_WORDS["no-depot"], str(key_list))
    _write(key_list, depot, entries, opened_key(depot_key, pin_file))
    told = say_many("{count} tablet key, signed", "{count} tablet keys, signed", len(entries))
    click.echo(f"{key_list}: {told}")


@keys.command()
@click.argument("key_list", type=PATH)
@click.argument("sha256")
@click.option("--at", "at", required=True, help="From when on, RFC 3339 time with offset.")
@click.option("--reason", required=True)
@_DEPOT_KEY
@_PIN_FILE
def revoke(
    key_list: Path, sha256: str, at: str, reason: str, depot_key: Path, pin_file: Path | None
) -> None:
    """Revoke in KEY_LIST the tablet key that SHA256 begins."""
    old = open_key_list(key_list)
    found = [key for key in old.device_keys if key.sha256.startswith(sha256.lower())]
    if len(found) != 1:
        raise SigningKeyError.worded(_WORDS["not-one-key"], str(key_list), sha256=sha256, count=len(found))
    entries = [
        msgspec.structs.replace(key, revoked_at=_time(at), reason=reason) if key is found[0] else key
        for key in old.device_keys
    ]
    _write(key_list, old.depot, entries, opened_key(depot_key, pin_file))
    label, owner = found[0].label, found[0].owner
    tell_user("{label} of {owner} is revoked from {at} on", label=label, owner=owner, at=at)


@keys.command()
@click.argument("key_list", type=PATH)
@_DEPOT_KEY
@_PIN_FILE
def sign(key_list: Path, depot_key: Path, pin_file: Path | None) -> None:
    """Sign KEY_LIST again after it was edited by hand."""
    sign_key_list(key_list, opened_key(depot_key, pin_file))
    tell_user("{key_list}: signed", key_list=key_list)


@keys.command("list")
@click.argument("key_list", type=PATH)
def show_list(key_list: Path) -> None:
    """Show KEY_LIST, after checking its signature."""
    opened = open_key_list(key_list)
    tell_user(
        "key list of {depot}, issued {at}; its signature holds under {key}",
        depot=opened.depot,
        at=opened.issued_at.isoformat(),
        key=say(opened.trusted_key),
    )
    for key in opened.device_keys:
        begin, end = key.valid_from.isoformat(), key.valid_until.isoformat()
        told = say("{begin} to {end}", begin=begin, end=end)
        if key.revoked_at:
            told += say(", revoked {at}: {reason}", at=key.revoked_at.isoformat(), reason=key.reason)
        click.echo(f"{key.sha256}  {key.owner}, {key.label}: {told}")


@keys.command("make-desk")
@click.argument("path", type=PATH)
def make_desk(path: Path) -> None:
    """Make the desk's transport key (age, X25519) in PATH; packages can be encrypted to it."""
    half = transport.make_desk_identity(path)
    tell_user("public half, for the tablets: {half}", half=half)


@keys.command()
@click.argument("encrypted", type=PATH)
@click.option("--desk-key", type=PATH, required=True, help="The desk's transport key.")
def decrypt(encrypted: Path, desk_key: Path) -> None:
    """Decrypt a package that was encrypted to the desk."""
    tell_user("decrypted: {path}", path=transport.decrypt_package(encrypted, desk_key))


def _write(key_list: Path, depot: str, entries: Sequence[DeviceKey], depot_key: SigningKey) -> None:
    now = datetime.now().astimezone().replace(microsecond=0)
    write_key_list(key_list, depot, now, entries, depot_key)


def _time(text: str) -> datetime:
    what = sentence('"{text}" is not a time', text=text)
    remedy = sentence("write it like 2026-03-02T08:15:30+01:00")
    with turned(ValueError, SigningKeyError, what, sentence("time"), remedy):
        return parse(text)
