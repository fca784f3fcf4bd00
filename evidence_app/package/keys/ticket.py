"""A depot's ticket: shows that a job did not begin before the ticket existed.

The ticket holds a random number that nobody can know before the depot made it.
A job that opens the ticket therefore began afterwards; it says nothing about
how long afterwards. RFC 8785 canonical JSON with a detached raw Ed25519
signature of the depot's key over these bytes.

A ticket can also ask for more after a package: it then names the step list that says what is
asked, and carries the signature of who asks, whose key the depot's list has.
"""

import secrets
from collections.abc import Sequence
from typing import Annotated, Any, TypeVar

import msgspec
import rfc8785
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from msgspec import Meta, Struct

from evidence_app import limits
from evidence_app.errors import SigningKeyError, turned
from evidence_app.package.keys.signing_key import SigningKey, signature_holds
from evidence_app.prepared import prepare
from evidence_app.record import times
from evidence_app.record.clock import Clock, SystemClock
from evidence_app.sentence import sentence

FORMAT, ASKING = "evidence-ticket/1", "evidence-ticket/2"
_NONCE_BYTES = 16
_Form = TypeVar("_Form", bound=Any)


_Name = Annotated[str, Meta(min_length=1, max_length=200)]
_Hex = Annotated[str, Meta(pattern=r"\A[0-9a-f]{64}\Z")]


class MoreAsked(Struct, frozen=True, forbid_unknown_fields=True):
    """That ``supervisor`` asks for more after the package with the seal ``seal_sha256``, in the
    step list ``step_list_sha256``. ``key`` is the raw Ed25519 public key of who asks."""

    seal_sha256: _Hex
    step_list_sha256: _Hex
    supervisor: _Name
    key: _Hex


class Ticket(Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """``nonce`` is 128 random bits as 32 hex digits, ``issued_at`` an RFC 3339
    time of the depot's clock, ``claim`` the only claim it is for, or None; ``asked`` is there in
    a ticket of the second format and in no other."""

    format: str
    depot: _Name
    nonce: Annotated[str, Meta(pattern=r"\A[0-9a-f]{32}\Z")]
    issued_at: str
    claim: _Name | None
    asked: MoreAsked | None = None


def make_ticket(
    key: SigningKey,
    depot: str,
    claim: str | None = None,
    clock: Clock | None = None,
    asked: MoreAsked | None = None,
) -> tuple[bytes, bytes]:
    """A new ticket and its signature by the depot's ``key``, or by that of who asks for more, to be
    written as ``ticket.json`` and ``ticket.sig``."""
    issued_at, form = (clock or SystemClock()).now().wall, ASKING if asked else FORMAT
    ticket = Ticket(form, depot, secrets.token_hex(_NONCE_BYTES), issued_at, claim, asked)
    data = rfc8785.dumps(msgspec.to_builtins(ticket))
    read_ticket(data)
    return data, key.sign(data)


def read_ticket(data: bytes, where: str = "ticket") -> Ticket:
    """The ticket in ``data``, its signature not looked at.

    Raises SigningKeyError unless it is a canonical ticket of a known format.
    """
    what = sentence("this is not a ticket that can be used: {problem}")
    remedy = sentence("ask the depot for a new ticket")
    with turned(ValueError, SigningKeyError, what, where, remedy):  # msgspec's and rfc8785's too
        ticket = read_canonical(data, Ticket, (FORMAT, ASKING), limits.TICKET_BYTES)
        if (ticket.asked is None) != (ticket.format == FORMAT):
            raise ValueError("its format says otherwise than its fields whether more is asked for")
        times.parse(ticket.issued_at)
    return ticket


def read_canonical(data: bytes, kind: type[_Form], forms: Sequence[str], at_most: int) -> _Form:
    """What canonical JSON of one of the formats ``forms`` says. Raises ValueError for any other bytes."""
    if len(data) > at_most:
        raise ValueError("it is too large")
    told = msgspec.json.decode(data, type=kind)
    if rfc8785.dumps(msgspec.to_builtins(told)) != data:
        raise ValueError("it is not canonical JSON (RFC 8785)")
    if told.format not in forms:
        raise ValueError(f"its format is {told.format!r}, known is {' and '.join(map(repr, forms))}")
    return told


def check_ticket(data: bytes, signature: bytes, key: Ed25519PublicKey, where: str = "ticket") -> Ticket:
    """The ticket in ``data`` if ``key``, the depot's or that of who asks for more
    (``KeyList.signer_of``), signed exactly these bytes. Raises SigningKeyError otherwise."""
    if not signature_holds(key, signature, data):
        what = sentence(
            "the ticket's signature does not hold under the key of the depot, or of who asks in it"
        )
        raise SigningKeyError(what, where=where, remedy=sentence("ask the depot for a new ticket"))
    return read_ticket(data, where)


prepare(Ticket)
