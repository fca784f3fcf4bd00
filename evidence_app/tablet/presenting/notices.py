"""The calm strip: what went wrong outside the work, and the way on."""

from collections.abc import Sequence
from pathlib import Path

import msgspec
from msgspec import Struct

from evidence_app.errors import EvidenceError
from evidence_app.language import mark, say
from evidence_app.record.event import Event
from evidence_app.sentence import Sentence
from evidence_app.tablet.presenting.problem import problem_words
from evidence_app.writing import duration

WARN_BYTES = 2_000_000_000
REFUSE_BYTES = 200_000_000
LOW_BATTERY = 15
_NEEDED_PER_PHOTO = 8_000_000


class Notice(Struct, frozen=True):
    """``key`` names what it is about; a newer one of the same key replaces it.

    ``action`` is (name, words) of the way on, None when there is nothing to press.
    """

    key: str
    words: str
    action: tuple[str, str] | None = None


DISMISS = "dismiss"
LATE = "late-photo"
OFFER = "take-back"


class _Told(Struct, frozen=True):
    """A notice in English: what it is about, its words, and the name and the words of the way on
    (``press`` empty: nothing to press)."""

    key: str
    words: str
    press: str = DISMISS
    way: str = mark("OK")


_TOLD = msgspec.toml.decode(Path(__file__).with_suffix(".toml").read_bytes(), type=dict[str, _Told])


def told(what: str, /, **values: object) -> Notice:
    """What happened, by its kind or its name in notices.toml beside this file."""
    found = _TOLD[what]
    action = (found.press, say(found.way)) if found.press else None
    return Notice(found.key, say(found.words, **values), action)


def disk_notice(free: int, photos_ahead: int = 0) -> Notice | None:
    """Warns under 2 GB, or under what the step list still needs."""
    if not room_for_more(free):
        return told("disk-full", free=free // 1_000_000)
    if free < max(WARN_BYTES, photos_ahead * _NEEDED_PER_PHOTO):
        return told("disk-filling", free=free // 1_000_000)
    return None


def room_for_more(free: int) -> bool:
    return free >= REFUSE_BYTES


def battery_notice(percent: float | None, plugged: bool | None) -> Notice | None:
    if percent is None or plugged or percent > LOW_BATTERY:
        return None
    return told("battery", percent=round(percent))


def camera_notice(present: bool, message: str, not_taken: Sequence[Sentence] = ()) -> Notice | None:
    """Of a camera that is there, the file it was last given and did not take."""
    if present:
        return Notice("camera", say(not_taken[-1]) + ".") if not_taken else None
    return told("no-camera", message=say(message))


def microphone_notice(present: bool, message: str, noting: bool = True) -> Notice | None:
    """``noting``: it was to hear a note, which can be written instead."""
    if present:
        return None
    return told("no-microphone-for-note" if noting else "no-microphone", message=say(message))


def event_notice(event: Event) -> Notice | None:
    """What an event that the app itself recorded means to the technician."""
    if event.kind == "clock-stepped":
        by = event.body["by_s"]
        way = say("forwards") if by > 0 else say("backwards")
        return told("clock-stepped", way=way, time=duration(abs(by)))
    if event.kind == "note-recorded" and event.body["cut_short"]:
        return told("cut-short")
    return told(event.kind) if event.kind in _TOLD else None


def brought_notice(taken: Sequence[str], refused: Sequence[EvidenceError]) -> Notice:
    """What was taken from a disk, and what was not and why."""
    lines = [say("Taken from the disk: {names}.", names=", ".join(taken))] if taken else []
    lines += [say("Not taken: {problem}", problem=problem_words(error)) for error in refused]
    nothing = say("The disk has nothing that is not on this tablet already.")
    return Notice("brought", "\n".join(lines) or nothing)


def take_back_notice() -> Notice:
    """Shown in the head, not in the strip."""
    return Notice(OFFER, offer_words(), (OFFER, say("Take it back")))


def offer_words() -> str:
    return say("Take it back") + "\n" + say("possible for 5 seconds")


def refusal_notice(sentence: str) -> Notice:
    return Notice("refused", sentence, (DISMISS, say("OK")))
