"""A depot's key list: which device keys it stands behind, and from when to when.

A TOML file that people can read and edit, with a detached raw Ed25519
signature of the depot's key over its very bytes in ``<file>.sig``. The list
is only as good as the way in which the depot's public key reached the desk,
and an old list does not know a later revocation: its date is always said.
"""

from collections.abc import Sequence
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import msgspec
import tomlkit
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from msgspec import Meta, Struct

from evidence_app.errors import SigningKeyError
from evidence_app.package.durable import write_durably
from evidence_app.package.keys.signing_key import (
    SigningKey,
    key_sha256,
    read_public_key,
    signature_holds,
)
from evidence_app.prepared import prepare
from evidence_app.reading import read_named
from evidence_app.sentence import sentence

DEPOT_KEY_NAME = "depot-key.pem"
_LARGEST_LIST = 4 * 2**20

_Digest = Annotated[str, Meta(pattern=r"\A[0-9a-f]{64}\Z", description="64 lower-case hex digits")]
_Name = Annotated[str, Meta(min_length=1, max_length=200)]
_Time = Annotated[datetime, Meta(tz=True, description="an RFC 3339 time with its offset")]


class DeviceKey(Struct, frozen=True, forbid_unknown_fields=True, rename="kebab"):
    """One device key. ``sha256`` is that of its DER SubjectPublicKeyInfo; it is
    valid from ``valid_from`` up to, not including, ``valid_until``."""

    sha256: _Digest
    owner: _Name
    label: _Name
    valid_from: _Time
    valid_until: _Time
    revoked_at: _Time | None = None
    reason: _Name | None = None


class _File(Struct, frozen=True, forbid_unknown_fields=True, rename="kebab"):
    """The whole TOML file."""

    format: Annotated[int, Meta(ge=1, le=1)]
    depot: _Name
    issued_at: _Time
    device_keys: tuple[DeviceKey, ...]


class Status(StrEnum):
    """Where a key stands at a given time."""

    VALID = "valid"
    NOT_YET_VALID = "not yet valid"
    EXPIRED = "expired"
    REVOKED = "revoked"
    REVOKED_LATER = "revoked later"
    UNKNOWN = "unknown"


class Standing(Struct, frozen=True):
    """The answer for one key at one time; ``key`` is None when it is unknown."""

    status: Status
    key: DeviceKey | None
    sentence: str


class KeyList(Struct, frozen=True):
    """A list whose signature holds under ``depot_key``.

    ``key_came_with_list``: the depot's key was taken from beside the list, so
    whoever brought the list brought the key too.
    """

    depot: str
    issued_at: datetime
    device_keys: tuple[DeviceKey, ...]
    depot_key: Ed25519PublicKey
    depot_key_sha256: str
    key_came_with_list: bool = False

    @property
    def trusted_key(self) -> str:
        """Which depot key the list was believed by, as part of a sentence."""
        return f"depot key {self.depot_key_sha256[:16]}…" + (
            ", found next to the list" if self.key_came_with_list else ""
        )

    def look_up(self, sha256: str, at: datetime) -> Standing:
        """Where the key with this SHA-256 stands at ``at`` (a time with offset).

        A revocation counts from its moment on. ``revoked later`` means that the
        key was good at ``at`` but has been revoked since: whoever holds the key
        can also claim an earlier time, so only a time token or the desk's
        receipt from before the revocation supports it.
        """
        issued = f"issued {self.issued_at.isoformat()}"
        listed = f"the list of {self.depot} {issued} (signed with {self.trusted_key})"
        key = next((key for key in self.device_keys if key.sha256 == sha256), None)
        if key is None:
            return Standing(Status.UNKNOWN, None, f"the key is not in {listed}")
        status, words = _status(key, at)
        sentence = f"the key of {key.owner} ({key.label}) {words}, by {listed}"
        return Standing(status, key, sentence)


def open_key_list(path: Path, depot_key_file: Path | None = None) -> KeyList:
    """Read a key list and check its signature before anything in it is used.

    The depot's public key is ``depot_key_file``, by default ``depot-key.pem``
    beside the list. Raises SigningKeyError naming the file and what is wrong.
    """
    data = _read(path, "key list")
    key_file = depot_key_file or path.with_name(DEPOT_KEY_NAME)
    signature = _read(signature_path(path), "signature of the key list")
    depot_key = read_public_key(_read(key_file, "depot's public key"), str(key_file))
    if not signature_holds(depot_key, signature, data):
        raise SigningKeyError(
            sentence("the signature does not hold under the depot's key {name}", name=key_file.name),
            where=str(path),
            remedy=sentence("get the list again from the depot; do not use this one"),
        )
    file = _parse(data, str(path))
    return KeyList(file.depot, file.issued_at, file.device_keys, depot_key,
                   key_sha256(depot_key), depot_key_file is None)  # fmt: skip


def write_key_list(
    path: Path, depot: str, issued_at: datetime, device_keys: Sequence[DeviceKey], depot_key: SigningKey
) -> None:
    """Write a key list, its signature and, when missing, the depot's public key beside it.

    Raises SigningKeyError when the entries are not sound; nothing is written then.
    """
    document = tomlkit.document()
    document.add("format", tomlkit.item(1))
    document.add("depot", tomlkit.item(depot))
    document.add("issued-at", tomlkit.item(issued_at))
    tables = tomlkit.aot()
    for key in device_keys:
        table = tomlkit.table()
        for name, value in msgspec.to_builtins(key, builtin_types=(datetime,)).items():
            if value is not None:
                table.add(name, value)
        tables.append(table)
    document.add("device-keys", tables if device_keys else tomlkit.array())
    data = tomlkit.dumps(document).encode()
    _parse(data, str(path))
    write_durably(path, data, error=SigningKeyError)
    sign_key_list(path, depot_key)


def sign_key_list(path: Path, depot_key: SigningKey) -> None:
    """Sign a key list that was written or edited by hand, after reading it as a desk would.

    Raises SigningKeyError naming the first thing wrong in it, or when another
    depot's public key stands beside it.
    """
    data = _read(path, "key list")
    _parse(data, str(path))
    beside = path.with_name(DEPOT_KEY_NAME)
    if not beside.exists():
        write_durably(beside, depot_key.public_pem, error=SigningKeyError)
    elif _read(beside, "depot's public key") != depot_key.public_pem:
        raise SigningKeyError(
            sentence("the public key beside the list is not the one that signs it"),
            where=str(beside),
            remedy=sentence("sign with the depot's own key, or use another folder"),
        )
    write_durably(signature_path(path), depot_key.sign(data), error=SigningKeyError)


def signature_path(path: Path) -> Path:
    """The detached signature of a list: its name plus ``.sig``."""
    return path.with_name(f"{path.name}.sig")


def _status(key: DeviceKey, at: datetime) -> tuple[Status, str]:
    then = at.isoformat()
    if key.revoked_at is not None:
        revoked = key.revoked_at.isoformat() + (f" ({key.reason})" if key.reason else "")
        if key.revoked_at <= at:
            return Status.REVOKED, f"was revoked from {revoked} on, so it was not valid at {then}"
    if at < key.valid_from:
        starts = key.valid_from.isoformat()
        return Status.NOT_YET_VALID, f"is valid from {starts} on, so it was not valid at {then}"
    if at >= key.valid_until:
        ends = key.valid_until.isoformat()
        return Status.EXPIRED, f"was valid until {ends}, so it was not valid at {then}"
    if key.revoked_at is not None:
        return Status.REVOKED_LATER, f"was valid at {then} but was revoked at {revoked}"
    return Status.VALID, f"was valid at {then}"


def _parse(data: bytes, where: str) -> _File:
    try:
        file = msgspec.toml.decode(data, type=_File)
    except (msgspec.MsgspecError, UnicodeError) as error:
        raise SigningKeyError(
            sentence("the key list cannot be read: {problem}", problem=error),
            where=where,
            remedy=sentence("correct it and sign it"),
        ) from error
    seen: set[str] = set()
    for key in file.device_keys:
        if key.sha256 in seen:
            raise _unsound(where, key, "stands in the list twice")
        if key.valid_until <= key.valid_from:
            raise _unsound(where, key, "has a valid-until that is not after its valid-from")
        seen.add(key.sha256)
    return file


def _unsound(where: str, key: DeviceKey, problem: str) -> SigningKeyError:
    return SigningKeyError(
        sentence(
            "the key {sha256}… of {owner} ({label}) {problem}",
            sha256=key.sha256[:16],
            owner=key.owner,
            label=key.label,
            problem=problem,
        ),
        where=where,
        remedy=sentence("correct the list and sign it"),
    )


def _read(path: Path, what: str) -> bytes:
    remedy = "a key list comes as three files: the list, its .sig and the depot's public key"
    try:
        return read_named(path, _LARGEST_LIST, remedy=remedy, error=SigningKeyError)
    except SigningKeyError as error:
        raise SigningKeyError(
            sentence("the {named} cannot be used: {problem}", named=what, problem=error.what),
            where=error.where,
            remedy=error.remedy,
        ) from error


prepare(_File)
