"""What became of each package that arrived, in plain words, and how far checking is."""

from __future__ import annotations

from pathlib import Path

from msgspec import Struct

from evidence_app.desk.intake import Taken
from evidence_app.desk.photos.reuse import SAME_FILE, SAME_PICTURE
from evidence_app.errors import EvidenceError
from evidence_app.language import mark, say, say_many
from evidence_app.tablet.presenting.from_below import in_this_language, told
from evidence_app.tablet.presenting.notices import DISMISS, Notice

_STATES = {
    "entered": mark("Entered as package {number}."),
    "known": mark("Known: it was received before as package {number}."),
}
_NOT_RECEIVED = mark("Not received.")


class Arrival(Struct, frozen=True):
    """One package. ``good``: nothing fails and nothing else is remarkable; ``package`` is its
    number in the register, None when it was not received."""

    name: str
    state: str
    words: tuple[str, ...]
    good: bool
    package: int | None


def arrival_of(taken: Taken) -> Arrival:
    if taken.package is None:
        return Arrival(taken.path.name, say(_NOT_RECEIVED), (told(taken.sentence),), False, None)
    words = [told(taken.checked.overall)] if taken.checked else []
    before = shown_before(taken.reused)
    if before:
        words.append(before_words(before))
    if taken.conflicts:
        words.append(say("Another package says it is of the same job."))
    return Arrival(
        name=taken.path.name,
        state=say(_STATES[taken.state], number=taken.package),
        words=tuple(words),
        good=not (before or taken.conflicts or (taken.checked and taken.checked.exit_status)),
        package=taken.package,
    )


def refused_arrival(path: Path, error: EvidenceError) -> Arrival:
    """A path under which there is no package."""
    return Arrival(
        path.name or str(path), say(_NOT_RECEIVED), (in_this_language(error),), False, None
    )


def shown_before(reused) -> int:
    """How many photos seem to have been shown in another claim."""
    return len({each["path"] for each in reused if each["verdict"] in (SAME_FILE, SAME_PICTURE)})


def before_words(count: int) -> str:
    return say_many(
        "{count} photo was shown before in another claim.",
        "{count} photos were shown before in other claims.",
        count,
    )


class Progress(Struct, frozen=True):
    """``share`` from 0 to 1 over both turns of this package."""

    head: str
    words: str
    share: float


def progress_of(checking) -> Progress:
    head = say(
        "{number} of {count}: {name}",
        number=checking.number,
        count=checking.count,
        name=checking.path.name,
    )
    part = checking.done / checking.total if checking.total else 0.0
    words = (
        say("Reading it: {done} of {total} MB")
        if checking.turn == 1
        else say("Checking it: {done} of {total} MB")
    )
    words = words.format(done=f"{checking.done / 1e6:.1f}", total=f"{checking.total / 1e6:.1f}")
    return Progress(head, words, (checking.turn - 1 + min(1.0, part)) / 2)


def cancelled_notice() -> Notice:
    return Notice(
        "cancelled",
        say("Cancelled. The package under way was not entered; those before it were."),
        (DISMISS, say("Understood")),
    )


def printed_notice(path: Path) -> Notice:
    return Notice(
        "printed", say("The report was written: {path}", path=path), (DISMISS, say("Understood"))
    )


def busy_notice() -> Notice:
    return Notice(
        "refused",
        say("Packages are being taken in already. Wait for them, or cancel."),
        (DISMISS, say("Understood")),
    )
