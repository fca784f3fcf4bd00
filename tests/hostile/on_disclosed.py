"""Attacks on a disclosed copy, from which a photo, a note and the report are withheld.

The copy is put together here from the format's description, not with the app's own command.
Nobody needs a key for these: what is left out is not signed, and must be found all the same.
"""

from __future__ import annotations

import re
from base64 import urlsafe_b64encode

from tests.hostile.bag import MANIFEST, RECORD, REPORT, STEP_LIST, Bag
from tests.hostile.registry import attack

FETCH = "fetch.txt"


def disclosed(bag: Bag, *more: str) -> Bag:
    """No attack: a copy without its first photo, its first note, its report and ``more``."""
    left = {bag.first("data/photos/"), bag.first("data/voice/"), REPORT, *more}
    bag.files[FETCH] = fetch(bag, left)
    for name in left:
        del bag.files[name]
    return bag


def fetch(bag: Bag, left: set[str]) -> bytes:
    """fetch.txt for files that are still in the bag."""
    sums = {line[66:]: line[:64] for line in bag.files[MANIFEST].decode().splitlines()}
    lines = []
    for name in sorted(left):
        told = urlsafe_b64encode(bytes.fromhex(sums[name])).decode().rstrip("=")
        lines.append(f"ni:///sha-256;{told} {len(bag.files[name])} {name}\n")
    return "".join(lines).encode()


def _tell(bag: Bag, old: str, new: str) -> Bag:
    told = re.sub(old, new, bag.files[FETCH].decode(), count=1)
    assert told.encode() != bag.files[FETCH]
    bag.files[FETCH] = told.encode()
    return bag


@attack("checksums")
def photo_removed_beyond_what_is_withheld(bag: Bag) -> Bag:
    """A second photo taken out of a disclosed copy, which does not say so."""
    disclosed(bag)
    del bag.files[bag.first("data/photos/")]
    return bag


@attack("checksums")
def list_of_what_is_withheld_removed(bag: Bag) -> Bag:
    """A disclosed copy that passes for the whole package."""
    del disclosed(bag).files[FETCH]
    return bag


@attack("checksums")
def line_removed_from_the_list_of_what_is_withheld(bag: Bag) -> Bag:
    """A photo that was withheld, hidden altogether."""
    return _tell(disclosed(bag), r".*/photos/.*\n", "")


@attack("bag")
def withheld_under_another_checksum(bag: Bag) -> Bag:
    """Another photo announced in the place of the withheld one."""
    return _tell(disclosed(bag), r"sha-256;....", "sha-256;AAAA")


@attack("bag")
def withheld_under_another_size(bag: Bag) -> Bag:
    """A withheld file told longer than it was."""
    return _tell(disclosed(bag), r" ([0-9]+) ", r" 1\1 ")


@attack("originals")
def withheld_sizes_exchanged(bag: Bag) -> Bag:
    """Two sizes made to add up to the same."""
    photo, note = bag.first("data/photos/"), bag.first("data/voice/")
    one, other = (f" {len(bag.files[name])} {name}" for name in (photo, note))
    disclosed(bag)
    text = bag.files[FETCH].decode()
    swapped = one.replace(photo, note), other.replace(note, photo)
    text = text.replace(one, "\0").replace(other, swapped[0]).replace("\0", swapped[1])
    bag.files[FETCH] = text.encode()
    return bag


@attack("bag")
def withheld_file_is_there(bag: Bag) -> Bag:
    """A photo called withheld while it lies in the package."""
    photo = bag.first("data/photos/")
    kept = bag.files[photo]
    disclosed(bag).files[photo] = kept
    return bag


@attack("bag")
def summary_withheld(bag: Bag) -> Bag:
    """The summary of a job left out like a photo."""
    return disclosed(bag, RECORD)


@attack("bag")
def step_list_withheld(bag: Bag) -> Bag:
    """The step list left out, so that nobody sees what was owed."""
    return disclosed(bag, STEP_LIST)


@attack("bag")
def report_shows_what_is_withheld(bag: Bag) -> Bag:
    """The report left in, with the withheld photo inside it."""
    left = {bag.first("data/photos/")}
    bag.files[FETCH] = fetch(bag, left)
    del bag.files[left.pop()]
    return bag


@attack("bag")
def list_of_what_is_withheld_empty(bag: Bag) -> Bag:
    """A whole package that says it is a copy, of nothing."""
    bag.files[FETCH] = b""
    return bag


@attack("bag")
def list_of_what_is_withheld_names_an_address(bag: Bag) -> Bag:
    """A file to be fetched from somewhere."""
    return _tell(disclosed(bag), r"ni:///sha-256;\S+", "https://example.org/photo.jpg")


@attack("checksums")
def photo_altered_in_a_disclosed_copy(bag: Bag) -> Bag:
    """One byte of a photo that is not withheld."""
    disclosed(bag)
    return bag.flip(bag.first("data/photos/"))
