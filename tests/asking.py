"""Requests for more after a package, the packages that answer them, and forgeries of both."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from pathlib import Path

import rfc8785

from evidence_app.desk.review import asked_in, open_review, sign_review
from evidence_app.package.keys.keylist import DeviceKey, KeyList, open_key_list, write_key_list
from evidence_app.practice.clock import PracticeClock
from tests.making import DEPOT, TECHNICIAN, make_key, make_package

SUPERVISOR_KEY, REASON = make_key(40), "The floor of the left slot from the other side, please – “as is”."
CLAIM, START = "NQ-2026-0200", "2026-03-03T09:00:00.000+01:00"


def listing(folder: Path, *known, **of_the_last) -> KeyList:
    """The depot's list with these keys and that of the tablet."""
    times = {
        "valid_from": datetime(2026, 1, 1, tzinfo=UTC),
        "valid_until": datetime(2027, 1, 1, tzinfo=UTC),
    }
    entries = [DeviceKey(key.sha256, "R. Tavares-Holm", "review", **times, **of_the_last) for key in known]
    entries.append(DeviceKey(make_key(2).sha256, TECHNICIAN, "tablet 4", **times))
    write_key_list(folder / "keys.toml", DEPOT, datetime(2026, 2, 1, tzinfo=UTC), entries, make_key(9))
    return open_key_list(folder / "keys.toml")


def ask(package: Path, keys: KeyList | None, wanted=("inspect-slot",), key=SUPERVISOR_KEY, register=None):
    clock, opened = PracticeClock(START), open_review(package)
    told = (opened, "ask-for-more", REASON, "R. Tavares-Holm", key, register)
    return asked_in(sign_review(*told, wanted, keys, clock))


def files_of(folder: Path) -> tuple[Path, Path, Path]:
    (steps,), (ticket,) = (folder / "step-lists").iterdir(), (folder / "tickets").glob("*.json")
    return steps, ticket, ticket.with_name(f"{ticket.name}.sig")


def answered(folder: Path, asked: Path, start: str = "2026-03-04T09:00:00.000+01:00") -> Path:
    """The package of a job that does what is asked, begun at ``start``."""
    steps, *ticket = (path.read_bytes() for path in files_of(asked))
    given = {"step_list": steps, "ticket": tuple(ticket), "start": start}
    return make_package(folder / "answer", key=make_key(2), claim=CLAIM, **given).path


def forged(change, key=SUPERVISOR_KEY):
    """Alters what a ticket says and signs it with ``key``."""

    def forge(steps: Path, ticket: Path, signature: Path) -> None:
        told = json.loads(ticket.read_bytes())
        change(told)
        ticket.write_bytes(rfc8785.dumps(told))
        signature.write_bytes(key.sign(ticket.read_bytes()))

    return forge


def asks_as(name: str, key):
    """The tablet's own key, which is listed, asks under ``name``."""
    raw = key.public.public_bytes_raw().hex()
    return forged(lambda told: told["asked"].update(supervisor=name, key=raw), key)


def other_words(steps: Path, ticket: Path, signature: Path) -> None:
    """Other words of who asks, and a ticket that an outsider signs for them as the supervisor."""
    steps.write_bytes(steps.read_bytes().replace(b"please", b"pliers"))
    digest = hashlib.sha256(steps.read_bytes()).hexdigest()
    forged(lambda told: told["asked"].update(step_list_sha256=digest), make_key(77))(
        steps, ticket, signature
    )


FORGERIES = [
        (asks_as("R. Tavares-Holm", make_key(2)), "with the key of"),
        (asks_as(TECHNICIAN, make_key(2)), "of a job of their own"),
        (asks_as("I. Unlisted", SUPERVISOR_KEY), "with the key of"),
        (other_words, "signature does not hold"),
        (forged(lambda told: None, make_key(77)), "signature does not hold"),
        (forged(lambda told: told["asked"].update(key=make_key(77).public.public_bytes_raw().hex()), make_key(77)),
         "not in the list"),
        (forged(lambda told: told["asked"].update(key="01" + "00" * 31)), "not in the list"),
        (forged(lambda told: told.update(depot="Southmole Works")), "the key list is not"),
        (forged(lambda told: told.pop("asked")), "its format says otherwise"),
        (forged(lambda told: told.update(format="evidence-ticket/1")), "its format says otherwise"),
    ]  # fmt: skip
"""How each is forged, and what checking says of it."""
