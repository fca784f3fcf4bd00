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
from typing import Annotated, Any

import msgspec
import tomlkit
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from msgspec import Meta, Struct

from evidence_app import limits
from evidence_app.errors import SigningKeyError, turned
from evidence_app.package.durable import write_durably
from evidence_app.package.keys.handover import Handover
from evidence_app.package.keys.signing_key import SigningKey, key_sha256, read_public_key, signature_holds
from evidence_app.package.keys.ticket import Ticket
from evidence_app.prepared import prepare
from evidence_app.reading import read_named
from evidence_app.record.times import parse
from evidence_app.sentence import Sentence, sentence, sentences_beside

DEPOT_KEY_NAME = "depot-key.pem"

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


GOOD = (Status.VALID, Status.REVOKED_LATER)

_WORDS = sentences_beside(__file__)
_TOLD, _REFUSED = _WORDS["standing"], _WORDS["refused"]


class KeyStanding(Struct, frozen=True):
    """The answer for one key at one time; ``key`` is None when it is unknown."""

    status: Status
    key: DeviceKey | None
    sentence: Sentence


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

    def __reduce__(self) -> tuple[Any, ...]:
        """For another process: a key object cannot go there, its bytes can."""
        raw = self.depot_key.public_bytes_raw()
        return _again, (self.depot, self.issued_at, self.device_keys, raw, self.key_came_with_list)

    @property
    def trusted_key(self) -> Sentence:
        """Which depot key the list was believed by, as part of a sentence."""
        begins = self.depot_key_sha256[:16]
        if self.key_came_with_list:
            return sentence("depot key {begins}…, found next to the list", begins=begins)
        return sentence("depot key {begins}…", begins=begins)

    def look_up(self, sha256: str, at: datetime) -> KeyStanding:
        """Where the key with this SHA-256 stands at ``at`` (a time with offset).

        A revocation counts from its moment on. ``revoked later`` means that the
        key was good at ``at`` but has been revoked since: whoever holds the key
        can also claim an earlier time, so only a time token or the desk's
        receipt from before the revocation supports it.
        """
        listed = sentence(
            "the list of {depot} issued {issued} (signed with {depot_key})",
            depot=self.depot,
            issued=self.issued_at.isoformat(),
            depot_key=self.trusted_key,
        )
        key = next((key for key in self.device_keys if key.sha256 == sha256), None)
        if key is None:
            unknown = sentence("the key is not in {listed}", listed=listed)
            return KeyStanding(Status.UNKNOWN, None, unknown)
        status = _status(key, at)
        revoked = key.revoked_at.isoformat() if key.revoked_at else ""
        values = {
            "owner": key.owner,
            "label": key.label,
            "listed": listed,
            "at": at.isoformat(),
            "starts": key.valid_from.isoformat(),
            "ends": key.valid_until.isoformat(),
            "revoked": revoked + (f" ({key.reason})" if key.reason else ""),
        }
        return KeyStanding(status, key, Sentence(_TOLD[status].template, tuple(values.items())))

    def signer_of(self, ticket: Ticket, technician: str | None = None) -> Ed25519PublicKey:
        """Whose signature a ticket is to carry: the depot's, or that of who asks for more in it.

        Raises SigningKeyError when this list does not stand behind who asks, under that name, or
        where the ``technician`` of the job that answers is the one who asks.
        """
        if ticket.asked is None:
            return self.depot_key
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(ticket.asked.key))
        standing = self.look_up(key_sha256(key), parse(ticket.issued_at))
        who, owner = ticket.asked.supervisor, standing.key.owner if standing.key else ""
        wrong = None
        if standing.status not in GOOD:
            wrong = sentence(
                "more is asked for with a key that does not count: {why}", why=standing.sentence
            )
        elif not is_among(who, owner):
            wrong = sentence("{name} asks for more with the key of {owner}", name=who, owner=owner)
        elif technician and is_among(technician, owner):
            wrong = sentence("{name} asks for more of a job of their own", name=technician)
        if wrong is not None:
            remedy = sentence("ask the depot for a request by a supervisor whose key is listed")
            raise SigningKeyError(wrong, remedy=remedy)
        return key

    def stand(self, chain: Sequence[Handover], sha256: str, at: datetime) -> KeyStanding:
        """As ``look_up``, for a key to which ``chain`` (oldest first, checked) leads.

        The newest listed key of the chain decides. It must be good both at ``at`` and when it
        handed over: no successor is known before the key that it comes from, or longer.
        """
        best = standing = self.look_up(sha256, at)
        for link in reversed(chain):
            if standing.status not in (Status.UNKNOWN, Status.NOT_YET_VALID):
                break
            both = [self.look_up(link.old, moment) for moment in sorted((at, parse(link.at)))]
            standing = next((each for each in both if each.status not in GOOD), both[-1])
            if standing.key is not None:
                told = sentence(
                    "sealed with key {key}…, to which key {old}…, listed as that of {owner} ({label}), "
                    "handed over at {at} ({reason}): {standing}",
                    key=sha256[:16], old=link.old[:16], owner=standing.key.owner, label=standing.key.label,
                    at=link.at, reason=link.reason, standing=standing.sentence,
                )  # fmt: skip
                best = KeyStanding(standing.status, standing.key, told)
        return best


def is_among(name: str, owners: str) -> bool:
    """A tablet that several people carry has them all as its owner, with semicolons between."""
    plain = " ".join(name.split()).casefold()
    return plain in {" ".join(each.split()).casefold() for each in owners.split(";")}


def _again(depot: str, issued_at: datetime, keys: tuple[DeviceKey, ...], raw: bytes, came: bool) -> KeyList:
    depot_key = Ed25519PublicKey.from_public_bytes(raw)
    return KeyList(depot, issued_at, keys, depot_key, key_sha256(depot_key), came)


def open_key_list(path: Path, depot_key_file: Path | None = None) -> KeyList:
    """Read a key list and check its signature before anything in it is used.

    The depot's public key is ``depot_key_file``, by default ``depot-key.pem``
    beside the list. Raises SigningKeyError naming the file and what is wrong.
    """
    data = _read(path, sentence("key list"))
    key_file = depot_key_file or path.with_name(DEPOT_KEY_NAME)
    signature = _read(signature_path(path), sentence("signature of the key list"))
    depot_key = read_public_key(_read(key_file, sentence("depot's public key")), str(key_file))
    if not signature_holds(depot_key, signature, data):
        raise SigningKeyError.worded(_REFUSED["false-signature"], str(path), name=key_file.name)
    file = _parse(data, str(path))
    return KeyList(file.depot, file.issued_at, file.device_keys, depot_key,
                   key_sha256(depot_key), depot_key_file is None)  # fmt: skip


def write_key_list(
    path: Path, depot: str, issued_at: datetime, device_keys: Sequence[DeviceKey], depot_key: SigningKey
) -> None:
    """Write a key list, its signature and, when missing, the depot's public key beside it.

    Raises SigningKeyError when the entries are not sound; nothing is written then.
    """
    fields = (msgspec.to_builtins(key, builtin_types=(datetime,)).items() for key in device_keys)
    keys = [{name: value for name, value in each if value is not None} for each in fields]
    document = {"format": 1, "depot": depot, "issued-at": issued_at, "device-keys": keys}
    data = tomlkit.dumps(document).encode()
    _parse(data, str(path))
    write_durably(path, data, error=SigningKeyError)
    sign_key_list(path, depot_key)


def sign_key_list(path: Path, depot_key: SigningKey) -> None:
    """Sign a key list that was written or edited by hand, after reading it as a desk would.

    Raises SigningKeyError naming the first thing wrong in it, or when another
    depot's public key stands beside it.
    """
    data = _read(path, sentence("key list"))
    _parse(data, str(path))
    beside = path.with_name(DEPOT_KEY_NAME)
    if not beside.exists():
        write_durably(beside, depot_key.public_pem, error=SigningKeyError)
    elif _read(beside, sentence("depot's public key")) != depot_key.public_pem:
        raise SigningKeyError.worded(_REFUSED["other-key"], str(beside))
    write_durably(signature_path(path), depot_key.sign(data), error=SigningKeyError)


def signature_path(path: Path) -> Path:
    """The detached signature of a list: its name plus ``.sig``."""
    return path.with_name(f"{path.name}.sig")


def _status(key: DeviceKey, at: datetime) -> Status:
    if key.revoked_at is not None and key.revoked_at <= at:
        return Status.REVOKED
    if at < key.valid_from:
        return Status.NOT_YET_VALID
    if at >= key.valid_until:
        return Status.EXPIRED
    return Status.VALID if key.revoked_at is None else Status.REVOKED_LATER


def _parse(data: bytes, where: str) -> _File:
    what = sentence("the key list cannot be read: {problem}")
    remedy = sentence("correct it and sign it")
    with turned((msgspec.MsgspecError, UnicodeError), SigningKeyError, what, where, remedy):
        file = msgspec.toml.decode(data, type=_File)
    seen: set[str] = set()
    for key in file.device_keys:
        if key.sha256 in seen:
            raise _unsound(where, key, sentence("stands in the list twice"))
        if key.valid_until <= key.valid_from:
            raise _unsound(where, key, sentence("has a valid-until that is not after its valid-from"))
        seen.add(key.sha256)
    return file


def _unsound(where: str, key: DeviceKey, problem: Sentence) -> SigningKeyError:
    return SigningKeyError.worded(
        _REFUSED["entry"], where, sha256=key.sha256[:16], owner=key.owner, label=key.label, problem=problem
    )


def _read(path: Path, what: Sentence) -> bytes:
    remedy = sentence("a key list comes as three files: the list, its .sig and the depot's public key")
    try:
        return read_named(path, limits.KEY_LIST_BYTES, remedy=remedy, error=SigningKeyError)
    except SigningKeyError as error:
        raise SigningKeyError(
            sentence("the {named} cannot be used: {problem}", named=what, problem=error.what),
            where=error.where,
            remedy=error.remedy,
        ) from error


prepare(_File)
