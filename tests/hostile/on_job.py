"""Attacks on what was done: journals that an insider rewrote and chained anew.

Everything else fits: record, report, lists and a seal under the device's key.
Only somebody who follows the step list and the clocks sees it.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from tests.hostile.bag import Bag, Event
from tests.hostile.registry import attack


@attack("conduct")
def hold_shortened(bag: Bag) -> Bag:
    """A hold of 3 s told as met."""

    def shorten(events: list[Event]) -> None:
        ended = the(events, "hold-ended")
        ended["body"] |= {"held_s": ended["body"]["held_s"] - 8, "met": True}
        shift(events, ended, -8)

    return bag.rewrite(shorten).own()


@attack("conduct")
def hold_told_longer(bag: Bag) -> Bag:
    """A hold whose length is told, while the monotonic clock shows less."""
    return bag.rewrite(lambda events: shift(events, the(events, "hold-ended"), -8)).own()


@attack("conduct")
def hold_left_out(bag: Bag) -> Bag:
    """No hold at all."""
    return _without(bag, lambda event: event["kind"].startswith("hold-"))


@attack("conduct")
def checkpoint_skipped(bag: Bag) -> Bag:
    """No photos and no finding at a checkpoint."""
    gone = ("photo-taken", "photo-judged", "photo-kept", "measured", "finding-given")
    return _without(bag, lambda event: event["kind"] in gone)


@attack("conduct")
def wanted_photo_left_out(bag: Bag) -> Bag:
    """One of two wanted photos left out."""
    name = the(bag.events, "photo-taken")["body"]["photo"]["sha256"]

    def of_photo(event: Event) -> bool:
        photo = event["body"].get("photo")
        return name in (photo, photo.get("sha256") if isinstance(photo, dict) else None)

    return _without(bag, of_photo)


@attack("conduct")
def scale_card_never_named(bag: Bag) -> Bag:
    """A measurement relies on a confirmed scale card that no event names."""
    card = {"serial": "NQ-7", "confirmed": True, "scale": 1.0, "scale_u": 0.001,
            "thickness_mm": 0.5, "thickness_u_mm": 0.05}  # fmt: skip
    result = the(bag.events, "measured")["body"]["result"]
    return _told(bag, "measured", result={**result, "card": card})


@attack("conduct")
def failing_photo_not_kept(bag: Bag) -> Bag:
    """A photo that failed the gate and counts without a stated reason."""
    return _without(bag, lambda event: event["kind"] == "photo-kept")


@attack("conduct")
def photo_passes_against_its_checks(bag: Bag) -> Bag:
    """A photo that is told to pass though one of its checks does not hold."""

    def passed(events: list[Event]) -> list[Event]:
        for event in events:
            if event["kind"] == "photo-judged":
                event["body"]["passes"] = True
        return [event for event in events if event["kind"] != "photo-kept"]

    return bag.rewrite(passed).own()


@attack("conduct")
def caution_not_acknowledged(bag: Bag) -> Bag:
    """Work begun without its caution."""
    return _without(bag, lambda event: event["kind"] == "caution-acknowledged")


@attack("conduct")
def tool_not_ticked(bag: Bag) -> Bag:
    """Work begun without a tool that is needed."""
    return _without(bag, lambda event: event["kind"] == "item-ticked")


@attack("conduct")
def reading_left_out(bag: Bag) -> Bag:
    """A reading that is owed and not there."""
    return _without(bag, lambda event: event["kind"] == "reading-entered")


@attack("conduct")
def reading_outside_told_within(bag: Bag) -> Bag:
    """A value outside its limits told as within."""
    return _told(bag, "reading-entered", value="20", within=True)


@attack("conduct")
def reading_in_other_unit(bag: Bag) -> Bag:
    """A value in another unit than the step list's."""
    return _told(bag, "reading-entered", unit="in")


@attack("conduct")
def count_left_out(bag: Bag) -> Bag:
    """What came out of the unit and was never counted."""
    first = the(bag.events, "pieces-counted")["body"]
    return _without(bag, lambda event: event["body"] == first)


@attack("conduct")
def count_changed(bag: Bag) -> Bag:
    """A piece fewer than the step list has, and nobody says why."""
    return _told(bag, "pieces-counted", count=3)


@attack("conduct")
def closed_out_of_balance(bag: Bag) -> Bag:
    """Fewer pieces out, for a reason, and all of them in: where the last came from is not told."""
    return _told(bag, "pieces-counted", count=3, reason="one was missing when it came")


@attack("conduct")
def count_of_unknown_thing(bag: Bag) -> Bag:
    """A count of something that the step list does not have."""
    return _told(bag, "pieces-counted", thing="wing-nuts")


@attack("conduct")
def refitted_with_another_kind(bag: Bag) -> Bag:
    """Pieces of another kind went in, and the reason was taken out."""

    def refit(events: list[Event]) -> None:
        last = [event for event in events if event["kind"] == "pieces-counted"][-1]
        last["body"]["other"] = "two of M1.6 × 5"

    return bag.rewrite(refit).own()


@attack("conduct")
def stopped_for_no_missing_piece(bag: Bag) -> Bag:
    """A stop for a missing piece, although every count is as listed."""
    rule = {"rule": "slot-residue", "by": "count", "reason": "Residue is seen in a tab slot.",
            "disposition": "Exchange the whole unit.", "prohibitions": ["No retrieval through the slot."]}  # fmt: skip

    def stop(events: list[Event]) -> None:
        counted = the(events, "pieces-counted")
        events.insert(events.index(counted) + 1, counted | {"kind": "repair-stopped", "body": rule})

    return bag.rewrite(stop).own()


@attack("conduct")
def finding_left_out(bag: Bag) -> Bag:
    """A checkpoint passed without anybody's finding."""
    return _without(bag, lambda event: event["kind"] == "finding-given")


@attack("conduct")
def finding_overruled(bag: Bag) -> Bag:
    """A finding that must stop the repair, and work that goes on."""
    return _told(bag, "finding-given", finding="not-clear",
                 leads_to={"action": "go-on", "step": None, "rule": None})  # fmt: skip


@attack("conduct")
def work_after_stop(bag: Bag) -> Bag:
    """A repair that was stopped and then carried on."""

    def stop(events: list[Event]) -> None:
        reading = the(events, "reading-entered")
        stopped = reading | {
            "kind": "repair-stopped",
            "body": {
                "rule": "stopped", "by": "technician", "reason": "The technician stops the repair.",
                "disposition": "Tag the unit and hand it to the supervisor.",
                "prohibitions": ["Do not go on with this unit."],
            },
        }  # fmt: skip
        events.insert(events.index(reading), stopped)

    return bag.rewrite(stop).own()


@attack("conduct")
def step_skipped(bag: Bag) -> Bag:
    """The first step with all that it owes left out."""
    return _without(bag, lambda event: event["step"] == "press-lining")


@attack("conduct")
def step_unknown(bag: Bag) -> Bag:
    """A note at a step that the step list does not have."""

    def elsewhere(events: list[Event]) -> None:
        the(events, "note-written")["step"] = "no-such-step"

    return bag.rewrite(elsewhere).own()


@attack("conduct")
def event_of_unknown_kind(bag: Bag) -> Bag:
    """A kind of event that no reader knows."""

    def unknown(events: list[Event]) -> None:
        the(events, "note-written")["kind"] = "all-approved"

    return bag.rewrite(unknown).own()


@attack("conduct")
def event_with_unknown_field(bag: Bag) -> Bag:
    """Something said beside what an event can say."""
    return _told(bag, "note-written", approved=True)


@attack("conduct")
def outcome_told_otherwise(bag: Bag) -> Bag:
    """A closed repair told with an outcome that its events do not lead to."""
    said = bag.events[-1]["body"]["outcome"]
    return _told(bag, "job-closed", outcome="stopped" if said == "completed" else "completed")


@attack("conduct")
def opened_twice(bag: Bag) -> Bag:
    """Two openings: which serial number is it?"""

    def again(events: list[Event]) -> None:
        events.insert(4, events[3] | {"kind": "job-opened", "body": dict(events[0]["body"])})

    return bag.rewrite(again).own()


@attack("clocks")
def wall_clock_set_back(bag: Bag) -> Bag:
    """The wall clock set back by an hour in the middle, and no event for it."""
    return _clock(bag, wall_s=-3600)


@attack("clocks")
def wall_clock_set_forward(bag: Bag) -> Bag:
    """The wall clock set forward by a day in the middle, and no event for it."""
    return _clock(bag, wall_s=86_400)


@attack("clocks")
def clock_step_understated(bag: Bag) -> Bag:
    """A step of an hour told as one of a second."""

    def understate(events: list[Event]) -> None:
        middle = the(events, "reading-entered")
        shift(events, middle, 3600, mono=False)
        told = {"kind": "clock-stepped", "actor": "clock", "body": {"by_s": 1, "earlier": False}}
        events.insert(events.index(middle), middle | told)

    return bag.rewrite(understate).own()


@attack("clocks")
def restart_hidden(bag: Bag) -> Bag:
    """Another run of the machine in the middle, and no event for it."""

    def restart(events: list[Event]) -> None:
        for event in events[events.index(the(events, "reading-entered")) :]:
            event["boot"] = "another-run"

    return bag.rewrite(restart).own()


@attack("clocks")
def monotonic_clock_set_back(bag: Bag) -> Bag:
    """A monotonic clock that runs backwards, as none does."""

    def back(events: list[Event]) -> None:
        for event in events[events.index(the(events, "note-written")) :]:
            event["mono_us"] -= 5_000_000

    return bag.rewrite(back).own()


@attack("clocks")
def photo_from_another_day(bag: Bag) -> Bag:
    """An old photo of the app's own camera under a new event: its Exif has the old time."""

    def later(events: list[Event]) -> None:
        for event in events:
            if event["kind"] == "photo-taken":
                event["body"]["source"] = {"kind": "camera", "name": "camera:0"}
        shift(events, events[0], 86_400)

    return bag.rewrite(later).own()


@attack("practice")
def practice_package(bag: Bag) -> Bag:
    """A practice job, handed in."""
    return _told(bag, "job-opened", practice=True)


@attack("practice")
def practice_clock_in_real_job(bag: Bag) -> Bag:
    """A job told as real whose times come from a practice clock."""
    return _told(bag, "job-opened", clock="practice")


@attack("practice")
def practice_camera_in_real_job(bag: Bag) -> Bag:
    """A job told as real with a photo of a rendered scene."""
    return _told(bag, "photo-taken", source={"kind": "practice", "name": "practice camera"})


def the(events: list[Event], kind: str) -> Event:
    return next(event for event in events if event["kind"] == kind)


def _without(bag: Bag, unwelcome: Callable[[Event], bool]) -> Bag:
    return bag.rewrite(lambda events: [event for event in events if not unwelcome(event)]).own()


def _told(bag: Bag, kind: str, **fields: Any) -> Bag:
    def tell(events: list[Event]) -> None:
        the(events, kind)["body"] |= fields

    return bag.rewrite(tell).own()


def _clock(bag: Bag, wall_s: float) -> Bag:
    def step(events: list[Event]) -> None:
        shift(events, the(events, "reading-entered"), wall_s, mono=False)

    return bag.rewrite(step).own()


def shift(events: list[Event], start: Event, by_s: float, mono: bool = True) -> None:
    """Move the times of ``start`` and of all that follows."""
    for event in events[events.index(start) :]:
        wall = datetime.fromisoformat(event["wall"]) + timedelta(seconds=by_s)
        event["wall"] = wall.isoformat(timespec="milliseconds")
        if mono:
            event["mono_us"] += round(by_s * 1_000_000)
