"""The calm strip: what went wrong outside the work, and the way on."""

from collections.abc import Sequence
from pathlib import Path

import msgspec
from msgspec import Struct

from evidence_app.language import say
from evidence_app.record.event import Event
from evidence_app.sentence import Sentence
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

_TOLD = msgspec.toml.decode(Path(__file__).with_suffix(".toml").read_bytes(), type=dict[str, Notice])


def disk_notice(free: int, photos_ahead: int = 0) -> Notice | None:
    """Warns under 2 GB, or under what the step list still needs."""
    megabytes = free // 1_000_000
    if free < REFUSE_BYTES:
        words = say(
            "The disk has only {free} MB left. Everything recorded so far is safe. New photos "
            "and notes wait until there is room: delete or move other files on this tablet.",
            free=megabytes,
        )
    elif free < max(WARN_BYTES, photos_ahead * _NEEDED_PER_PHOTO):
        words = say(
            "The disk is filling up: {free} MB are left. Everything so far is safe. Finish this "
            "job, then make room.",
            free=megabytes,
        )
    else:
        return None
    return Notice("disk", words, ("recheck-disk", say("Look again")))


def room_for_more(free: int) -> bool:
    return free >= REFUSE_BYTES


def battery_notice(percent: float | None, plugged: bool | None) -> Notice | None:
    if percent is None or plugged or percent > LOW_BATTERY:
        return None
    words = say(
        "The battery is at {percent} %. Plug the tablet in; should it go off, the job goes on at "
        "this very step.",
        percent=round(percent),
    )
    return Notice("battery", words)


def camera_notice(present: bool, message: str, not_taken: Sequence[Sentence] = ()) -> Notice | None:
    """Of a camera that is there, the file it was last given and did not take."""
    if present:
        return Notice("camera", say(not_taken[-1]) + ".") if not_taken else None
    words = say(
        "The camera is not there. It is tried again and again; check its cable and power. "
        "Everything so far is safe. ({message})",
        message=say(message),
    )
    return Notice("camera", words, ("settings", say("Choose another camera")))


def microphone_notice(present: bool, message: str, noting: bool = True) -> Notice | None:
    """``noting``: it was to hear a note, which can be written instead."""
    if present:
        return None
    if noting:
        words = say(
            "The microphone is not there. It is tried again and again. Write the note instead, or "
            "choose another microphone. ({message})",
            message=say(message),
        )
        return Notice("microphone", words, ("write-note", say("Write the note")))
    words = say(
        "The microphone is not there. It is tried again and again; check its plug, or choose "
        "another one. ({message})",
        message=say(message),
    )
    return Notice("microphone", words)


def listening_notice(sentence: str) -> Notice:
    """Why spoken commands are not heard; everything else goes on."""
    return Notice(
        "listening",
        say("Spoken commands are off. {why} Touch, keys and recording work as before.", why=sentence),
        _read(),
    )


def event_notice(event: Event) -> Notice | None:
    """What an event that the app itself recorded means to the technician."""
    if event.kind == "clock-stepped":
        by = event.body["by_s"]
        way = say("forwards") if by > 0 else say("backwards")
        return Notice(
            "clock",
            say(
                "The tablet's clock was set {way} by {time}. It is recorded. Holds are not touched: "
                "they are counted on another clock.",
                way=way,
                time=duration(abs(by)),
            ),
            _read(),
        )
    if event.kind == "note-recorded" and event.body["cut_short"]:
        return told("cut-short")
    return told(event.kind) if event.kind in _TOLD else None


def told(what: str) -> Notice:
    """What happened, by its kind or its name in notices.toml beside this file."""
    return Notice(_TOLD[what].key, say(_TOLD[what].words), _read())


def late_photo_notice() -> Notice:
    words = say("The photo that you did not wait for is stored now.")
    return Notice(LATE, words, (LATE, say("Look at it")))


def taken_up_notice(events: int, photos: int) -> Notice:
    return Notice(
        "resumed",
        say(
            "The job was resumed where it was left: {events} entries and {photos} photos are safe.",
            events=events,
            photos=photos,
        ),
        _read(),
    )


OFFER = "take-back"


def take_back_notice() -> Notice:
    """Shown in the head, not in the strip."""
    return Notice(OFFER, offer_words(), (OFFER, say("Take it back")))


def offer_words() -> str:
    return say("Take it back") + "\n" + say("Recorded. It can be taken back for 5 seconds.")


def refusal_notice(sentence: str) -> Notice:
    return Notice("refused", sentence, _read())


def _read() -> tuple[str, str]:
    return DISMISS, say("OK")
