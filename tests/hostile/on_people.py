"""Attacks on whose it is and when: another unit, person, depot or year, and practice made real."""

from __future__ import annotations

import hashlib
from datetime import datetime

from tests.hostile.bag import INFO, Bag, Event
from tests.hostile.on_job import shift, the
from tests.hostile.registry import attack
from tests.making import START, photo_by


@attack("practice")
def practice_photo_made_real(bag: Bag) -> Bag:
    """A photo of the practice camera in a job told as real: flag, clock and source rewritten."""
    data = photo_by("practice camera")

    def exchange(events: list[Event]) -> None:
        taken = the(events, "photo-taken")
        old = taken["body"]["photo"]["sha256"]
        new = hashlib.sha256(data).hexdigest()
        taken["body"]["photo"] |= {"sha256": new, "bytes": len(data)}
        for event in events:
            if event["body"].get("photo") == old:
                event["body"]["photo"] = new

    bag.files["data/photos/exchanged.jpg"] = data
    return bag.rewrite(exchange).own()


@attack("practice")
def practice_run_made_real(bag: Bag) -> Bag:
    """A practice clock's run behind a journal told as real."""

    def run(events: list[Event]) -> None:
        for event in events:
            event["boot"] = "practice-1"

    return bag.rewrite(run).own()


@attack("key")
def technician_other_than_the_keys_owner(bag: Bag) -> Bag:
    """Work sealed under somebody else's name."""
    return _opened(bag, technician="P. Lindqvist-Amadi")


@attack("bag")
def depot_in_bag_info_exchanged(bag: Bag) -> Bag:
    """Another depot on the outside than the ticket inside is of."""
    text = bag.files[INFO].decode().replace("Northquay Instrument Depot", "Southmole Works")
    bag.files[INFO] = text.encode()
    return bag.own()


@attack("bag")
def claim_in_bag_info_exchanged(bag: Bag) -> Bag:
    """Another claim on the outside than in the journal."""
    bag.files[INFO] = bag.files[INFO].replace(b"NQ-2026-0117", b"NQ-2026-0118")
    return bag.own()


@attack("clocks")
def job_of_the_future(bag: Bag) -> Bag:
    """A job that was closed a hundred years from now."""

    def later(events: list[Event]) -> None:
        start = datetime.fromisoformat(START)
        shift(events, events[0], (start.replace(year=2126) - start).total_seconds(), mono=False)

    return bag.rewrite(later).own()


def _opened(bag: Bag, **fields: str) -> Bag:
    return bag.rewrite(lambda events: events[0]["body"].update(fields)).own()
