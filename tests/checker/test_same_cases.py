"""One table of cases on which two checkers, written apart, could differ: both judge alike."""

from __future__ import annotations

import copy

import pytest

from evidence_app.errors import PackageError
from evidence_app.package.verify.check import verify
from tests.checker.conftest import check
from tests.checker.test_agreement import compare
from tests.hostile.bag import Bag
from tests.hostile.on_job import the


def closed_not_last(events):
    events.append(copy.deepcopy(the(events, "note-written")))


def outcome_missing(events):
    del events[-1]["body"]["outcome"]


def photos_swapped(events):
    one, other = [event for event in events if event["kind"] == "photo-taken"][:2]
    one["body"]["photo"], other["body"]["photo"] = other["body"]["photo"], one["body"]["photo"]


def ticket_bytes_as_text(events):
    ticket = the(events, "ticket-opened")["body"]["ticket"]
    ticket["bytes"] = str(ticket["bytes"])


def opening_without_device(events):
    del events[0]["body"]["device"]


def opening_with_a_list_as_device(events):
    events[0]["body"]["device"] = ["H7-004211"]


def opening_with_a_number_as_claim(events):
    events[0]["body"]["claim"] = 7


def opening_without_step_list(events):
    del events[0]["body"]["step_list"]


def two_million_counted(events):
    the(events, "pieces-counted")["body"]["count"] = 2_000_000


def counted_without_a_direction(events):
    del the(events, "pieces-counted")["body"]["goes"]


def reason_of_a_count_is_a_sign(events):
    the(events, "pieces-counted")["body"]["reason"] = "–"


def counted_twice_the_second_changed(events):
    counted = the(events, "pieces-counted")
    events.insert(events.index(counted) + 1, copy.deepcopy(counted))
    events[events.index(counted) + 1]["body"]["count"] = 3


CASES = [
    two_million_counted, counted_without_a_direction, reason_of_a_count_is_a_sign,
    counted_twice_the_second_changed,
    closed_not_last, outcome_missing, photos_swapped, ticket_bytes_as_text, opening_without_device,
    opening_with_a_list_as_device, opening_with_a_number_as_claim, opening_without_step_list,
]  # fmt: skip


@pytest.mark.parametrize("change", CASES, ids=lambda change: change.__name__)
def test_a_malformed_journal_is_judged_alike(shared, sound, tmp_path, change):
    bag = Bag.read(sound[0])
    events = copy.deepcopy(bag.events)
    change(events)
    bag.rechain(events)
    path = tmp_path / "case.zip"
    path.write_bytes(bag.zip())
    try:
        app = verify(path)
    except PackageError:
        app = None
    page = shared.give(path)
    compare(app, page)
    assert page["verdict"] == "fails", page["overall"]
    for name in ("journal-chain", "conduct", "originals", "clocks"):
        assert check(page, name)["outcome"] == app.check(name).outcome, name
