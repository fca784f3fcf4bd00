"""A tablet's new key, signed over by the one before it.

A handover is RFC 8785 JSON with the old key's raw Ed25519 signature, kept beside the new key as
``handover-<begin of its SHA-256>.json`` and ``.sig``; a package carries all that lead to the key
that sealed it. It makes no key known by itself: the chain must come from a key of the depot's
list, and reaches no further than that key does.
"""

from base64 import b64encode
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import msgspec
import rfc8785
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from msgspec import Meta, Struct

from evidence_app import limits
from evidence_app.errors import SigningKeyError
from evidence_app.package.durable import write_durably
from evidence_app.package.keys import signing_key
from evidence_app.package.keys.ticket import read_canonical
from evidence_app.prepared import prepare
from evidence_app.reading import read_named
from evidence_app.record import times
from evidence_app.sentence import Sentence, sentence

FORMAT = "evidence-handover/1"

Signed = tuple[bytes, bytes]
"""The very bytes of a handover, and their signature."""


class Handover(Struct, frozen=True, forbid_unknown_fields=True):
    """``old_key`` and ``new_key`` are DER SubjectPublicKeyInfo in base64, as in the middle line
    of a PEM file; ``at`` is an RFC 3339 time of the device's clock, ``reason`` a person's words."""

    format: str
    old_key: str
    new_key: str
    at: str
    reason: Annotated[str, Meta(min_length=1, max_length=4000)]

    @property
    def old(self) -> str:
        return signing_key.key_sha256(_key(self.old_key))

    @property
    def new(self) -> str:
        return signing_key.key_sha256(_key(self.new_key))

    @property
    def told(self) -> Sentence:
        return sentence("key {old}… handed over to key {new}… at {at}: {reason}",
                        old=self.old[:16], new=self.new[:16], at=self.at, reason=self.reason)  # fmt: skip


def hand_over(
    old: signing_key.SigningKey, new: Ed25519PublicKey, at: str, reason: str, folder: Path
) -> Handover:
    """Write to ``folder`` the handover from ``old`` to ``new``, and those that led to ``old``.

    Raises SigningKeyError when the chain that this makes would not hold.
    """
    old_key, new_key = (b64encode(key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)).decode()
             for key in (old.public, new))  # fmt: skip
    data = rfc8785.dumps(msgspec.to_builtins(Handover(FORMAT, old_key, new_key, at, reason)))
    chain = (*kept(old.folder, old.sha256), (data, old.sign(data)))
    links = check_chain(chain, signing_key.key_sha256(new))
    for link, (data, signature) in zip(links, chain, strict=True):
        # The content comes last: without it there is no handover, whatever a power cut left.
        path = _path(folder, link.new)
        write_durably(path.with_suffix(".sig"), signature, error=SigningKeyError)
        write_durably(path, data, error=SigningKeyError)
    return links[-1]


def replace_key(path: Path, old: signing_key.SigningKey, pin: str | None, at: str, reason: str) -> Handover:
    """Hand over to a new key in the place of ``old`` at ``path``; the old one stays beside it
    under its SHA-256. Raises SigningKeyError, StorageFull."""
    new = path.with_suffix(".new.pem")
    new.unlink(missing_ok=True)  # cut off before it came to be used
    made = signing_key.create_key(new, pin)
    link = hand_over(old, made.public, at, reason, path.parent)
    # The old key is safe under another name before the new one takes its place.
    write_durably(path.with_name(f"{path.stem}-{old.sha256[:16]}.pem"), read_named(path), mode=0o600)
    write_durably(path, read_named(new), mode=0o600)
    new.unlink()
    write_durably(path.with_suffix(".public.pem"), made.public_pem)
    return link


def chain_to(sha256: str, folder: Path) -> tuple[Handover, ...]:
    """The handovers kept in ``folder`` that lead to the key ``sha256``, checked."""
    return check_chain(kept(folder, sha256), sha256)


def kept(folder: Path | None, sha256: str) -> tuple[Signed, ...]:
    """The handovers in ``folder`` that lead to the key ``sha256``, oldest first, as they are."""
    chain: tuple[Signed, ...] = ()
    while folder and (path := _path(folder, sha256)).exists() and len(chain) <= limits.HANDOVERS:
        data, signature = (read_named(part, limits.HANDOVER_BYTES, error=SigningKeyError)
                           for part in (path, path.with_suffix(".sig")))  # fmt: skip
        chain = ((data, signature), *chain)
        sha256 = _read(data, str(path)).old
    return chain


def check_chain(chain: Sequence[Signed], sha256: str) -> tuple[Handover, ...]:
    """What ``chain``, oldest first, says, if it leads to the key ``sha256`` without a break.

    Raises SigningKeyError naming the first handover that does not hold.
    """
    links: list[Handover] = []
    for number, (data, signature) in enumerate(chain, start=1):
        link = _read(data, where := f"handover {number}")
        last = links[-1] if links else link
        if not signing_key.signature_holds(_key(link.old_key), signature, data):
            raise _wrong(where, sentence("the old key's signature does not hold"))
        if link.old in (before.old for before in links):
            raise _wrong(where, sentence("key {key}… hands over a second time", key=link.old[:16]))
        if links and link.old != last.new:
            raise _wrong(where, sentence("is not by the key that the handover before it names"))
        if link.new in (link.old, *(before.old for before in links)):
            raise _wrong(where, sentence("hands back to key {key}…, which handed over", key=link.new[:16]))
        if times.parse(link.at) < times.parse(last.at):
            raise _wrong(where, sentence("is of {at}, earlier than the handover before it", at=link.at))
        links.append(link)
    if links and (links[-1].new != sha256 or len(links) > limits.HANDOVERS):
        most = sentence("does not lead, as one of at most {most}, to the key used", most=limits.HANDOVERS)
        raise _wrong(f"handover {len(links)}", most)
    return tuple(links)


def _read(data: bytes, where: str) -> Handover:
    try:
        told = read_canonical(data, Handover, (FORMAT,), limits.HANDOVER_BYTES)
        times.parse(told.at)
        _key(told.old_key), _key(told.new_key)
    except (ValueError, SigningKeyError) as error:
        raise _wrong(where, sentence("is not in order: {problem}", problem=error)) from error
    return told


def _wrong(where: str, what: Sentence) -> SigningKeyError:
    remedy = sentence("have the depot enter the new key into its key list")
    return SigningKeyError(what, where=where, remedy=remedy)


def _key(named: str) -> Ed25519PublicKey:
    pem = f"-----BEGIN PUBLIC KEY-----\n{named}\n-----END PUBLIC KEY-----\n"
    return signing_key.read_public_key(pem.encode(), "key")


def _path(folder: Path, sha256: str) -> Path:
    return folder / f"handover-{sha256[:16]}.json"


prepare(Handover)
