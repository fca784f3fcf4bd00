"""Attacks in which every event fits every other, and only the photos say something else.

Each is an insider's, on a package whose photos were really judged and measured; measuring
again finds it, and nothing else can.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import cv2
import numpy as np

from evidence_app.package.keys.signing_key import SigningKey
from evidence_app.photo.measure import measure
from evidence_app.practice.scenes.named import scene_of
from tests.hostile.bag import INSIDER, Bag, Event, sha
from tests.hostile.registry import AGAIN, attack
from tests.making import STEP_LIST, make_package
from tests.photo.truths import jpeg_of

_GAPS = (0.12, 0.3)
_LIST = STEP_LIST.replace(
    b'framing = "Rim of the slot from straight above"\n',
    b'framing = "Rim of the slot from straight above"\nscale-card = true\n'
    b'measurement = { kind = "gap", unit = "mm", at-most = 0.5 }\n',
)


def measured_package(folder: Path) -> Path:
    """A completed job with two photos of seams of 0.12 mm and 0.3 mm, both measured."""
    return make_package(
        folder,
        key=SigningKey(INSIDER),
        step_list=_LIST,
        taken=lambda number: jpeg_of(scene_of(f"seam?gap_mm={_GAPS[number % 2]}&seed={number}")),
        measure=measure,
    ).path


@attack("originals", AGAIN)
def drawings_exchanged(bag: Bag) -> Bag:
    """Two drawings exchanged, each named by its own checksum."""

    def exchange(events: list[Event]) -> None:
        one, other = (event["body"] for event in _all(events, "measured"))
        one["markup"], other["markup"] = other["markup"], one["markup"]

    return bag.rewrite(exchange).own()


@attack("originals", AGAIN)
def drawing_of_nothing(bag: Bag) -> Bag:
    """A grey picture of the same size in the place of a drawing."""
    name = bag.first("data/markup/")
    drawn = cv2.imdecode(np.frombuffer(bag.files[name], np.uint8), cv2.IMREAD_COLOR)
    grey = cv2.imencode(".png", np.full_like(drawn, 90))[1].tobytes()
    return _exchanged(bag, bag.files[name], grey)


@attack("originals", AGAIN)
def gate_value_made_up(bag: Bag) -> Bag:
    """A focus better than the photo's."""

    def tell(events: list[Event]) -> None:
        checks = _all(events, "photo-judged")[0]["body"]["checks"]
        next(check for check in checks if check["name"] == "focus")["value"] /= 2

    return bag.rewrite(tell).own()


@attack("originals", AGAIN)
def measured_value_made_up(bag: Bag) -> Bag:
    """A gap told narrower than the photo shows, all numbers beside it made to fit."""
    return _result(bag, value=lambda told: round(told - 0.05, 4))


@attack("originals", AGAIN)
def uncertainty_made_small(bag: Bag) -> Bag:
    """Half of the uncertainty."""
    return _result(bag, U=lambda told: round(told / 2, 4))


@attack("originals", AGAIN)
def photo_of_something_else(bag: Bag) -> Bag:
    """A sound photo of the same size without the scale card; every value told as it was."""
    name = bag.first("data/photos/")
    taken = cv2.imdecode(np.frombuffer(bag.files[name], np.uint8), cv2.IMREAD_COLOR)
    noise = np.random.default_rng(1).integers(0, 256, taken.shape, dtype=np.uint8)
    other = cv2.imencode(".jpg", cv2.GaussianBlur(noise, (0, 0), 1.5))[1].tobytes()
    return _exchanged(bag, bag.files[name], other)


def by_an_older_method(bag: Bag, ended: str) -> Bag:
    """No attack: the last photo was measured by the method of a version before, which ended so."""
    return _result(bag, method=lambda told: told.removesuffix("; third version") + ended)


def _result(bag: Bag, **changes: Any) -> Bag:
    def tell(events: list[Event]) -> None:
        result = _all(events, "measured")[-1]["body"]["result"]
        for name, change in changes.items():
            result[name] = change(result[name])
        for name in ("largest", "smallest", "stations"):
            result.pop(name, None)

    return bag.rewrite(tell).own()


def _exchanged(bag: Bag, old: bytes, new: bytes) -> Bag:
    def exchange(events: list[Event]) -> None:
        for event in events:
            _rename(event["body"], sha(old), {"sha256": sha(new), "bytes": len(new)})

    bag.files["data/photos/exchanged.jpg"] = new
    return bag.rewrite(exchange).own()


def _rename(body: dict[str, Any], old: str, new: dict[str, Any]) -> None:
    for name, value in body.items():
        if value == old:
            body[name] = new["sha256"]
        elif isinstance(value, dict) and value.get("sha256") == old:
            value |= new


def _all(events: list[Event], kind: str) -> list[Event]:
    return [event for event in events if event["kind"] == kind]
