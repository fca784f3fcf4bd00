"""Attacks on the seal, its key and the proofs of time."""

from __future__ import annotations

import json
from base64 import b64encode

import rfc8785

from tests.hostile.bag import KEY, OUTSIDER, SEAL, SIGNATURE, Bag, public_pem, sha
from tests.hostile.registry import attack

_PEM = b"-----BEGIN PUBLIC KEY-----\n%b\n-----END PUBLIC KEY-----\n"


@attack("seal")
def seal_missing(bag: Bag) -> Bag:
    """A package that nobody signed."""
    del bag.files[SEAL]
    return bag


@attack("seal")
def signature_missing(bag: Bag) -> Bag:
    """A seal without signature."""
    del bag.files[SIGNATURE]
    return bag


@attack("seal")
def device_key_missing(bag: Bag) -> Bag:
    """A signature that cannot be checked."""
    del bag.files[KEY]
    return bag


@attack("seal")
def signature_altered(bag: Bag) -> Bag:
    """One bit of the signature changed."""
    return bag.flip(SIGNATURE, 5)


@attack("seal")
def signature_with_order_added(bag: Bag) -> Bag:
    """S plus the group's order: a second signature for the same bytes (RFC 8032 8.4)."""
    order = 2**252 + 27742317777372353535851937790883648493
    signature = bag.files[SIGNATURE]
    s = int.from_bytes(signature[32:], "little") + order
    bag.files[SIGNATURE] = signature[:32] + s.to_bytes(32, "little")
    return bag


@attack("seal")
def signature_too_long(bag: Bag) -> Bag:
    """Bytes behind the signature, which no hash covers."""
    bag.files[SIGNATURE] += b"\0"
    return bag


@attack("seal")
def seal_edited(bag: Bag) -> Bag:
    """Another claim number in the seal, the signature left."""
    bag.files[SEAL] = bag.files[SEAL].replace(b"NQ-2026-0117", b"NQ-2026-0118")
    return bag


@attack("seal")
def seal_of_another_package(bag: Bag) -> Bag:
    """A true seal of another job, with its key: everything in it is signed."""
    other = Bag(bag.top, dict(bag.files))
    other.rewrite(lambda events: events[0]["body"].update(technician="Somebody Else")).own()
    for name in (SEAL, SIGNATURE, KEY):
        bag.files[name] = other.files[name]
    return bag.list_tags()


@attack("seal")
def key_replaced(bag: Bag) -> Bag:
    """Another public key beside the old signature."""
    bag.files[KEY] = public_pem(OUTSIDER)
    return bag.list_tags()


@attack("seal")
def key_with_two_keys(bag: Bag) -> Bag:
    """Two public keys in one file: tools disagree which one counts."""
    bag.own()
    bag.files[KEY] += public_pem(OUTSIDER)
    return bag.list_tags().seal()


@attack("seal")
def key_of_small_order(bag: Bag) -> Bag:
    """The neutral point as public key: its signature R = neutral, S = 0 passes for any bytes."""
    return _with_key(bag, b"\x01" + b"\0" * 31, b"\x01" + b"\0" * 63)


@attack("seal")
def key_of_small_order_spelled_otherwise(bag: Bag) -> Bag:
    """The same point with the sign bit set, which a list of one spelling misses."""
    return _with_key(bag, b"\x01" + b"\0" * 30 + b"\x80", b"\x01" + b"\0" * 63)


@attack("seal")
def key_of_another_kind(bag: Bag) -> Bag:
    """An X25519 key: the same curve, not a signing key."""
    return _with_key(bag, b"\x09" + b"\0" * 31, b"\0" * 64, kind=b"\x6e")


@attack("seal")
def key_is_no_key(bag: Bag) -> Bag:
    """Text where a key should be."""
    bag.files[KEY] = b"trust me\n"
    return bag.list_tags().seal()


@attack("seal")
def seal_with_spaces(bag: Bag) -> Bag:
    """The same JSON in another spelling, properly signed: not canonical."""
    bag.own()
    return bag.sign(json.dumps(bag.seal_fields(), sort_keys=True).encode())


@attack("seal")
def seal_with_doubled_key(bag: Bag) -> Bag:
    """A key twice: one reader sees the first value, another the last."""
    bag.own()
    seal = rfc8785.dumps(bag.seal_fields())
    return bag.sign(seal.replace(b'"claim":', b'"claim":"NQ-2026-0001","claim":', 1))


@attack("seal")
def seal_with_bytes_behind(bag: Bag) -> Bag:
    """Something after the JSON object, signed with it."""
    bag.own()
    return bag.sign(bag.files[SEAL] + b"\n")


@attack("seal")
def seal_nested_deeply(bag: Bag) -> Bag:
    """Brackets enough to exhaust a recursive reader."""
    return bag.sign(b'{"format":' + b"[" * 200_000)


@attack("seal")
def seal_not_text(bag: Bag) -> Bag:
    """Bytes that are not UTF-8, properly signed."""
    return bag.sign(b'{"format":"\xff\xfe"}')


@attack("seal")
def seal_with_unknown_field(bag: Bag) -> Bag:
    """A field that this format does not have."""
    return bag.own(remark="all in order")


@attack("seal")
def seal_without_a_field(bag: Bag) -> Bag:
    """A field left out."""
    bag.own()
    fields = bag.seal_fields()
    del fields["serial"]
    return bag.sign(rfc8785.dumps(fields))


@attack("seal")
def seal_of_newer_format(bag: Bag) -> Bag:
    """A format that this version does not know; it must say so and not guess."""
    return bag.own(format="evidence-seal/2", remark="new in 2")


@attack("seal")
def seal_says_other_outcome(bag: Bag) -> Bag:
    """A stopped repair sealed as completed, or the other way round."""
    said = bag.seal_fields()["outcome"]
    return bag.own(outcome="completed" if said != "completed" else "stopped")


@attack("seal")
def seal_says_other_serial(bag: Bag) -> Bag:
    """The package of one device offered for another."""
    return bag.own(serial="H7-999999")


@attack("seal")
def seal_says_other_claim(bag: Bag) -> Bag:
    """The package of one claim offered for another."""
    return bag.own(claim="NQ-2026-9999")


@attack("seal")
def seal_says_other_time(bag: Bag) -> Bag:
    """A closing time that the journal does not have, for instance before a revocation."""
    return bag.own(closed_at="2020-01-01T00:00:00.000+01:00")


@attack("seal")
def seal_counts_other_events(bag: Bag) -> Bag:
    """Another number of events than the journal has."""
    return bag.own(events=bag.seal_fields()["events"] + 1)


@attack("seal")
def seal_names_other_head(bag: Bag) -> Bag:
    """A journal head that is not the journal's."""
    return bag.own(journal_head=sha(b"another journal"))


@attack("seal")
def seal_shows_other_fingerprint(bag: Bag) -> Bag:
    """The fingerprint that somebody was told, on another package."""
    return bag.own(fingerprint="AAAA-BBBB-CCCC-DDDD-EEEE")


@attack("seal")
def seal_names_other_step_list(bag: Bag) -> Bag:
    """Another version of the step list in the seal."""
    fields = bag.seal_fields()
    return bag.own(step_list=fields["step_list"] | {"version": "9.9"})


@attack("seal")
def seal_says_real(bag: Bag) -> Bag:
    """A practice job sealed as a real one."""
    bag.rewrite(lambda events: events[0]["body"].update(practice=True))
    return bag.own(practice=False)


@attack("seal")
def top_folder_renamed(bag: Bag) -> Bag:
    """Another claim in the name that people see first."""
    bag.top = "evidence-NQ-2026-9999-00000000"
    return bag


@attack("key")
def everything_resealed(bag: Bag) -> Bag:
    """A forgery without a flaw, but for the key: only the depot's key list tells."""
    bag.key = OUTSIDER
    return bag.rewrite(lambda events: None).own()


@attack("time-bracket")
def time_token_is_noise(bag: Bag) -> Bag:
    """Bytes where a time token should be."""
    bag.files["seal.tsr"] = b"\x30\x03\x02\x01\x00"
    return bag


@attack("time-bracket")
def ticket_of_another_depot(bag: Bag) -> Bag:
    """A ticket that somebody else than the depot signed."""
    ticket = bag.files["data/ticket/ticket.json"]
    old, new = sha(bag.files["data/ticket/ticket.sig"]), OUTSIDER.sign(ticket)
    bag.files["data/ticket/ticket.sig"] = new

    def rename(events: list) -> None:
        for event in events:
            signature = event["body"].get("signature")
            if signature and signature["sha256"] == old:
                signature["sha256"] = sha(new)

    return bag.rewrite(rename).own()


@attack("time-bracket")
def ticket_told_older(bag: Bag) -> Bag:
    """A true ticket, but the journal says that it was issued earlier."""

    def earlier(events: list) -> None:
        for event in events:
            if event["kind"] == "ticket-opened":
                event["body"]["issued_at"] = "2020-01-01T00:00:00.000+01:00"

    return bag.rewrite(earlier).own()


def _with_key(bag: Bag, point: bytes, signature: bytes, kind: bytes = b"\x70") -> Bag:
    """The package sealed under the public key with these 32 bytes."""
    der = b"\x30\x2a\x30\x05\x06\x03\x2b\x65" + kind + b"\x03\x21\x00" + point
    bag.files[KEY] = _PEM % b64encode(der)
    bag.list_tags().seal(device_key_sha256=sha(der))
    bag.files[SIGNATURE] = signature
    return bag
