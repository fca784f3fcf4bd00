"""Attacks on a disclosed copy in which the names of people are replaced by roles.

The copy is put together here from the format's description, not with the app's own command.
Nobody needs a key for these.
"""

from __future__ import annotations

import json
from collections.abc import Callable

import rfc8785

from tests.hostile.bag import JOURNAL, RECORD, REPORT, Bag, Event
from tests.hostile.on_disclosed import FETCH, fetch
from tests.hostile.on_job import the
from tests.hostile.registry import attack

ROLES = "journal-roles.jsonl"
NAMED = {"job-opened": ("technician", "technician 1"), "name-given": ("name", "supervisor 1")}


def with_roles(bag: Bag, *more: str) -> Bag:
    """No attack: a copy without what names people, the journal with roles in its place."""
    lines = []
    for line in bag.files[JOURNAL].splitlines():
        told = json.loads(line)
        field, role = NAMED.get(told["event"]["kind"], ("", ""))
        reworded = rewritten(told, lambda event, f=field, r=role: event["body"].update({f: r}))
        lines.append(reworded if field else line + b"\n")
    left = {JOURNAL, RECORD, REPORT, *more}
    bag.files[FETCH] = fetch(bag, left)
    for name in left:
        del bag.files[name]
    bag.files[ROLES] = b"".join(lines)
    return bag


def rewritten(told: dict, change: Callable[[Event], object], begin: str = "reworded") -> bytes:
    """A line of the copy, its event changed and the hash left."""
    event = json.loads(json.dumps(told["event"]))
    change(event)
    return b'{"%b":%b,"hash":"%b"}\n' % (begin.encode(), rfc8785.dumps(event), told["hash"].encode())


def _changed(bag: Bag, kind: str, change: Callable[[Event], object], begin: str = "reworded") -> Bag:
    """The copy with one event of that kind changed besides."""
    kept = [json.loads(line) for line in bag.files[JOURNAL].splitlines()]
    place = the([each["event"] for each in kept], kind)["sequence"] - 1
    with_roles(bag)
    lines = bag.files[ROLES].splitlines(keepends=True)
    lines[place] = rewritten(kept[place], change, begin)
    bag.files[ROLES] = b"".join(lines)
    return bag


def _body(**fields: object) -> Callable[[Event], object]:
    return lambda event: event["body"].update(fields)


def _opened(**device: str) -> Callable[[Event], object]:
    """The role in its place, and something else of the unit told otherwise."""

    def change(event: Event) -> None:
        event["body"]["technician"] = "technician 1"
        event["body"]["device"].update(device)

    return change


@attack("journal-chain")
def reading_passed_off_as_reworded(bag: Bag) -> Bag:
    """A value changed under the pretence of replacing a name."""
    return _changed(bag, "reading-entered", _body(value="121"))


@attack("journal-chain")
def reading_changed_in_a_copy_with_roles(bag: Bag) -> Bag:
    """A value changed without any pretence."""
    return _changed(bag, "reading-entered", _body(value="121"), "event")


@attack("journal-chain")
def role_that_is_somebody_elses_name(bag: Bag) -> Bag:
    """Another person in the place of the technician."""
    return _changed(bag, "job-opened", _body(technician="P. Lindqvist-Amadi"))


@attack("journal-chain")
def role_of_another_type(bag: Bag) -> Bag:
    """A number where a role is to stand."""
    return _changed(bag, "job-opened", _body(technician=1))


@attack("seal")
def serial_changed_beside_the_role(bag: Bag) -> Bag:
    """Another unit in the entry in which the technician's name was replaced."""
    return _changed(bag, "job-opened", _opened(serial="H7-004212"))


@attack("seal")
def outcome_changed_beside_the_role(bag: Bag) -> Bag:
    """A completed job told as abandoned, in an entry that may be reworded."""
    return _changed(bag, "job-closed", _body(outcome="abandoned", reason="called back by technician 1"))


@attack("conduct")
def model_changed_beside_the_role(bag: Bag) -> Bag:
    """Another model of unit, which the seal does not repeat, in the reworded entry."""
    return _changed(bag, "job-opened", _opened(model="H8"))


@attack("seal")
def hash_of_the_last_entry_changed_in_a_copy_with_roles(bag: Bag) -> Bag:
    """An end of the chain that the seal does not name."""
    with_roles(bag)
    lines = bag.files[ROLES].splitlines(keepends=True)
    told = json.loads(lines[-1]) | {"hash": "0" * 64}
    lines[-1] = rewritten(told, _body(reason="technician 1 was called back"))
    bag.files[ROLES] = b"".join(lines)
    return bag


@attack("journal-chain")
def hash_of_a_reworded_entry_changed(bag: Bag) -> Bag:
    """A name replaced, and what it was with it."""
    with_roles(bag)
    first, _, rest = bag.files[ROLES].partition(b"\n")
    bag.files[ROLES] = first[:-66] + b"0" * 64 + first[-2:] + b"\n" + rest
    return bag


@attack("journal-chain")
def entry_left_out_of_a_copy_with_roles(bag: Bag) -> Bag:
    """An unwelcome entry gone with the names."""
    with_roles(bag)
    lines = bag.files[ROLES].splitlines(keepends=True)
    del lines[-3]
    bag.files[ROLES] = b"".join(lines)
    return bag


@attack("journal-chain")
def reworded_entry_in_a_sealed_journal(bag: Bag) -> Bag:
    """A journal that says of itself that an entry is reworded, sealed so."""
    lines = bag.files[JOURNAL].splitlines(keepends=True)
    lines[0] = rewritten(json.loads(lines[0]), _body(technician="technician 1"))
    bag.files[JOURNAL] = b"".join(lines)
    return bag.list_payload().list_tags()


@attack("journal-chain")
def journal_with_roles_empty(bag: Bag) -> Bag:
    """Nothing in the place of the journal."""
    with_roles(bag).files[ROLES] = b""
    return bag


@attack("bag")
def journal_with_roles_beside_the_whole_package(bag: Bag) -> Bag:
    """A second journal for the reader to look at."""
    bag.files[ROLES] = bag.files[JOURNAL].replace(b'"value":"120"', b'"value":"121"')
    return bag


@attack("bag")
def journal_withheld_and_nothing_in_its_place(bag: Bag) -> Bag:
    """No journal at all in a copy."""
    del with_roles(bag).files[ROLES]
    return bag


@attack("bag")
def summary_with_names_left_in_a_copy_with_roles(bag: Bag) -> Bag:
    """The roles in one file, the names in the next."""
    summary = bag.files[RECORD]
    with_roles(bag).files[RECORD] = summary
    told = bag.files[FETCH].decode().splitlines(keepends=True)
    bag.files[FETCH] = "".join(line for line in told if RECORD not in line).encode()
    return bag
