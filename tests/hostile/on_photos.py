"""Attacks on what was judged and measured: events that contradict themselves or the step list.

Each is an insider's: record, report, lists and seal fit the changed journal.
"""

from __future__ import annotations

from typing import Any

from tests.hostile.bag import Bag, Event
from tests.hostile.on_job import the
from tests.hostile.registry import attack


@attack("conduct")
def gate_holds_beside_a_value_over_its_limit(bag: Bag) -> Bag:
    """A blurred photo whose focus is told to hold."""
    return _judged(bag, "focus", value=9.0, holds=True)


@attack("conduct")
def gate_limit_raised(bag: Bag) -> Bag:
    """A limit that no gate has, so that a blurred photo holds."""
    return _judged(bag, "focus", value=9.0, limit=10.0, holds=True)


@attack("conduct")
def gate_unit_exchanged(bag: Bag) -> Bag:
    """A value told in a unit in which it is small."""
    return _judged(bag, "motion", unit="percent")


@attack("conduct")
def gate_check_left_out(bag: Bag) -> Bag:
    """The failing checks of a photo left out."""

    def leave_out(body: dict[str, Any]) -> None:
        body["checks"] = [check for check in body["checks"] if check["holds"]]
        body["passes"] = True

    return _passing(bag, leave_out)


@attack("conduct")
def gate_check_invented(bag: Bag) -> Bag:
    """A check that no gate makes, which holds."""

    def invent(body: dict[str, Any]) -> None:
        more = {"name": "authentic", "value": 1.0, "limit": 1.0, "unit": "share", "holds": True,
                "sentence": "The photo is as it was taken."}  # fmt: skip
        body["checks"] = [more]
        body["passes"] = True

    return _passing(bag, invent)


@attack("conduct")
def gate_size_of_another_photo(bag: Bag) -> Bag:
    """A size that the photo does not have, so that the size check holds."""
    return _judged(bag, "size", value=12.0, holds=True)


@attack("conduct")
def measured_value_over_its_limit_told_within(bag: Bag) -> Bag:
    """A gap of 0.9 mm told as within 0.5 mm."""
    return _measured(bag, value=0.9)


@attack("conduct")
def measured_uncertainty_left_out(bag: Bag) -> Bag:
    """A value without its uncertainty, told as within."""
    return _measured(bag, U=None)


@attack("conduct")
def measured_against_another_limit(bag: Bag) -> Bag:
    """A limit other than the step list's, under which the value is within."""
    return _measured(bag, value=0.9, at_most=2.0)


@attack("conduct")
def measured_widest_place_hidden(bag: Bag) -> Bag:
    """The widest place told smaller than the median."""
    narrow = {"width_mm": 0.1, "at_mm": 0.0, "U_mm": 0.06}
    return _measured(bag, value=0.9, largest=narrow, smallest=narrow)


@attack("conduct")
def measurement_left_out(bag: Bag) -> Bag:
    """A wanted measurement whose event was removed."""
    return _without_measurement(bag)


@attack("conduct")
def second_better_measurement(bag: Bag) -> Bag:
    """The same photo measured again, with a better result."""

    def again(events: list[Event]) -> None:
        first = the(events, "measured")
        better = dict(first["body"]) | {"result": first["body"]["result"] | {"value": 0.1}}
        events.insert(events.index(first) + 1, first | {"body": better})

    return bag.rewrite(again).own()


def _judged(bag: Bag, name: str, **fields: Any) -> Bag:
    def change(body: dict[str, Any]) -> None:
        next(check for check in body["checks"] if check["name"] == name).update(fields)

    def tell(events: list[Event]) -> None:
        change(the(events, "photo-judged")["body"])

    return bag.rewrite(tell).own()


def _passing(bag: Bag, change: Any) -> Bag:
    """Change the judgement of the first photo so that it passes and need not be kept."""

    def tell(events: list[Event]) -> list[Event]:
        judged = the(events, "photo-judged")
        change(judged["body"])
        photo = judged["body"]["photo"]
        return [e for e in events if e["kind"] != "photo-kept" or e["body"]["photo"] != photo]

    return bag.rewrite(tell).own()


def _measured(bag: Bag, **fields: Any) -> Bag:
    def tell(events: list[Event]) -> None:
        the(events, "measured")["body"]["result"].update(fields)

    return bag.rewrite(tell).own()


def _without_measurement(bag: Bag) -> Bag:
    def leave_out(events: list[Event]) -> list[Event]:
        return [event for event in events if event["kind"] != "measured"]

    return bag.rewrite(leave_out).own()
