"""Attacks on photos, notes and drawings that are not what their events say.

Each is an insider's: the event names the exchanged file by its own checksum and size.
"""

from __future__ import annotations

import hashlib
import io
from typing import Any

import numpy as np
import soundfile

from tests.hostile.bag import Bag, Event
from tests.hostile.on_job import the
from tests.hostile.registry import attack
from tests.making import note

_TEXT = b"Nothing was found. " * 40


@attack("originals")
def note_that_is_a_text(bag: Bag) -> Bag:
    """A text file in the place of a spoken note."""
    return exchanged(bag, "note-recorded", "audio", _TEXT)


@attack("originals")
def note_shorter_than_told(bag: Bag) -> Bag:
    """A tenth of a second of sound where the event says half a second."""
    return exchanged(bag, "note-recorded", "audio", note(50, 0.1))


@attack("originals")
def photo_cut_in_half(bag: Bag) -> Bag:
    """The first half of a photo."""
    whole = bag.files[bag.first("data/photos/")]
    return exchanged(bag, "photo-taken", "photo", whole[: len(whole) // 2])


@attack("originals")
def photo_that_is_a_text(bag: Bag) -> Bag:
    """A text file in the place of a photo."""
    return exchanged(bag, "photo-taken", "photo", _TEXT)


@attack("originals")
def photo_told_larger(bag: Bag) -> Bag:
    """9999 x 9999 pixels told of a photo that has 96 x 72; its size check told to fit."""

    def tell(events: list[Event]) -> None:
        the(events, "photo-taken")["body"] |= {"width": 9999, "height": 9999}
        scale = 9999 / 4000
        for check in the(events, "photo-judged")["body"]["checks"]:
            if check["name"] == "size":
                check |= {"value": 99.98, "holds": True}
            if check["name"] in ("focus", "motion"):
                check["limit"] *= scale
                check["holds"] = check["value"] <= check["limit"]

    return bag.rewrite(tell).own()


@attack("originals")
def drawing_that_is_a_text(bag: Bag) -> Bag:
    """A text file in the place of a drawing."""
    return exchanged(bag, "measured", "markup", _TEXT)


@attack("originals")
def spoken_reason_that_is_silence(bag: Bag) -> Bag:
    """Half a second of nothing as the reason of a stop."""
    file = io.BytesIO()
    soundfile.write(file, np.zeros(8000, np.int16), 16_000, format="FLAC", subtype="PCM_16")

    def stop(events: list[Event]) -> None:
        recorded = the(events, "note-recorded")
        started = the(events, "note-started")
        stopped = started | {
            "kind": "repair-stopped",
            "body": {
                "rule": "stopped", "by": "technician", "reason": "The technician stops the repair.",
                "disposition": "Tag the unit and hand it to the supervisor.",
                "prohibitions": ["Do not go on with this unit."],
            },
        }  # fmt: skip
        events.insert(events.index(started), stopped)
        recorded["body"]["seconds"] = 0.5

    return exchanged(bag.rewrite(stop), "note-recorded", "audio", file.getvalue())


def exchanged(bag: Bag, kind: str, field: str, data: bytes) -> Bag:
    def exchange(events: list[Event]) -> None:
        body = the(events, kind)["body"]
        old = body[field]["sha256"]
        body[field] |= {"sha256": _sha(data), "bytes": len(data)}
        for event in events:
            if event["body"].get("photo") == old:
                event["body"]["photo"] = _sha(data)

    bag.files["data/voice/exchanged.flac"] = data
    return bag.rewrite(exchange).own()


def _sha(data: bytes) -> Any:
    return hashlib.sha256(data).hexdigest()
