"""Attacks by a key that is not listed and says that a listed one handed over to it.

The statements are made here from the format's description, not with the app's own command.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable
from typing import Any

import rfc8785
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from tests.hostile.bag import INSIDER, OUTSIDER, Bag
from tests.hostile.registry import attack

NEW, NEWEST = (Ed25519PrivateKey.from_private_bytes(bytes([seed]) * 32) for seed in (0x68, 0x69))
WITHDRAWN, LOST = (Ed25519PrivateKey.from_private_bytes(bytes([seed]) * 32) for seed in (0x6A, 0x6B))
"""Listed, the one withdrawn before the job was closed (2026-03-02), the other some time after."""

AT = "2026-02-10T09:00:00.000+01:00"
LATER = "2026-02-11T09:00:00.000+01:00"
Statement = tuple[bytes, bytes]


def der(key: Ed25519PrivateKey) -> str:
    return b64encode(
        key.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    ).decode()


def statement(old: Ed25519PrivateKey, new: Ed25519PrivateKey, at: str = AT, **changes: Any) -> Statement:
    """What ``old`` signs when it hands over to ``new``."""
    told = {"format": "evidence-handover/1", "old_key": der(old), "new_key": der(new), "at": at,
            "reason": "the tablet's screen broke"}  # fmt: skip
    data = rfc8785.dumps(told | changes)
    return data, old.sign(data)


def handed_over(bag: Bag, chain: Iterable[Statement], key: Ed25519PrivateKey = NEW) -> Bag:
    """No attack by itself: the package sealed with ``key``, the chain in it."""
    for number, (data, signature) in enumerate(chain, start=1):
        bag.files[f"handover-{number}.json"] = data
        bag.files[f"handover-{number}.sig"] = signature
    bag.key = key
    return bag.remake().own()


def _without(bag: Bag, *names: str) -> Bag:
    for name in names:
        del bag.files[name]
    return bag.own_tags()


@attack("key")
def handover_signed_by_the_new_key(bag: Bag) -> Bag:
    """A key that makes itself a successor."""
    data, _ = statement(INSIDER, NEW)
    return handed_over(bag, [(data, NEW.sign(data))])


@attack("key")
def handover_reworded(bag: Bag) -> Bag:
    """Another reason than the one that was signed."""
    data, signature = statement(INSIDER, NEW)
    return handed_over(bag, [(data.replace(b"screen", b"camera"), signature)])


@attack("key")
def handover_signature_cut(bag: Bag) -> Bag:
    """A signature without its end."""
    data, signature = statement(INSIDER, NEW)
    return handed_over(bag, [(data, signature[:63])])


@attack("key")
def handover_to_another_key(bag: Bag) -> Bag:
    """Somebody else's handover, carried by a third key."""
    return handed_over(bag, [statement(INSIDER, NEW)], OUTSIDER)


@attack("key")
def handover_by_a_key_that_nobody_lists(bag: Bag) -> Bag:
    """A chain whose beginning was cut off, or that never had one."""
    return handed_over(bag, [statement(NEWEST, NEW)])


@attack("key")
def handover_in_between_left_out(bag: Bag) -> Bag:
    """A key in the middle of a chain that nobody handed over to."""
    return handed_over(bag, [statement(INSIDER, NEWEST), statement(OUTSIDER, NEW, LATER)])


@attack("key")
def handover_file_left_out(bag: Bag) -> Bag:
    """The second of three links gone, file and all."""
    chain = [statement(INSIDER, OUTSIDER), statement(OUTSIDER, NEWEST), statement(NEWEST, NEW)]
    return _without(handed_over(bag, chain), "handover-2.json", "handover-2.sig")


@attack("key")
def handover_without_its_signature(bag: Bag) -> Bag:
    """A statement that nobody signed."""
    return _without(handed_over(bag, [statement(INSIDER, NEW)]), "handover-1.sig")


@attack("key")
def handover_back_and_forth(bag: Bag) -> Bag:
    """A chain that runs in a ring, back to the listed key."""
    return handed_over(bag, [statement(INSIDER, NEW), statement(NEW, INSIDER, LATER)], INSIDER)


@attack("key")
def handover_to_itself(bag: Bag) -> Bag:
    """A listed key that hands over to itself."""
    return handed_over(bag, [statement(INSIDER, INSIDER)], INSIDER)


@attack("key")
def handover_made_twice(bag: Bag) -> Bag:
    """One old key, two successors."""
    return handed_over(bag, [statement(INSIDER, NEWEST), statement(INSIDER, NEW, LATER)])


@attack("key")
def handover_earlier_than_the_one_before_it(bag: Bag) -> Bag:
    """A key that handed over before it had been handed over to."""
    return handed_over(bag, [statement(INSIDER, NEWEST, LATER), statement(NEWEST, NEW, AT)])


@attack("key")
def handover_before_the_old_key_was_valid(bag: Bag) -> Bag:
    """A handover dated back to a time when the depot did not stand behind the old key."""
    return handed_over(bag, [statement(INSIDER, NEW, "2025-12-31T23:59:59Z")])


@attack("key")
def handover_after_the_old_key_ended(bag: Bag) -> Bag:
    """A key that prolongs itself."""
    return handed_over(bag, [statement(INSIDER, NEW, "2027-01-01T00:00:00Z")])


@attack("key")
def handover_by_a_withdrawn_key(bag: Bag) -> Bag:
    """A tablet that was lost, and hands over after that."""
    return handed_over(bag, [statement(WITHDRAWN, NEW)])


@attack("key")
def handover_by_a_withdrawn_key_dated_back(bag: Bag) -> Bag:
    """The same, dated to the day before the loss."""
    return handed_over(bag, [statement(WITHDRAWN, NEW, "2026-01-31T08:00:00Z")])


@attack("key")
def handover_by_a_key_lost_since(bag: Bag) -> Bag:
    """Handover and job dated before the loss, with nothing from outside that shows it."""
    return handed_over(bag, [statement(LOST, NEW)])


@attack("key")
def handover_written_in_another_way(bag: Bag) -> Bag:
    """A statement with a blank in it, which is not canonical JSON."""
    data = statement(INSIDER, NEW)[0].replace(b'","', b'", "')
    return handed_over(bag, [(data, INSIDER.sign(data))])


@attack("key")
def handover_of_another_format(bag: Bag) -> Bag:
    """A statement of a format that is not known."""
    return handed_over(bag, [statement(INSIDER, NEW, format="evidence-handover/2")])


@attack("key")
def handover_with_more_in_it(bag: Bag) -> Bag:
    """A statement with a field that the format does not have."""
    return handed_over(bag, [statement(INSIDER, NEW, until="2036-01-01T00:00:00Z")])


@attack("key")
def handover_at_no_time(bag: Bag) -> Bag:
    """A statement of a day that does not exist."""
    return handed_over(bag, [statement(INSIDER, NEW, "2026-02-30T09:00:00Z")])


@attack("key")
def handover_of_a_key_in_another_spelling(bag: Bag) -> Bag:
    """The same key in base64 with bits set that mean nothing, so that it looks like another."""
    spelled = der(NEW)[:-2] + chr(ord(der(NEW)[-2]) + 1) + "="
    return handed_over(bag, [statement(INSIDER, NEW, new_key=spelled)])


@attack("bag")
def handover_put_in_afterwards(bag: Bag) -> Bag:
    """A statement laid beside the sealed files by somebody without the sealing key."""
    bag.files["handover-1.json"], bag.files["handover-1.sig"] = statement(INSIDER, NEW)
    return bag


@attack("checksums")
def handover_taken_out_afterwards(bag: Bag) -> Bag:
    """A statement taken out of a sealed package."""
    handed_over(bag, [statement(INSIDER, NEW)])
    del bag.files["handover-1.json"]
    return bag
