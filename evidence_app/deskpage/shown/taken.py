"""What became of each package that arrived, in plain words."""

from pathlib import Path

from msgspec import Struct

from evidence_app.desk.intake import Taken
from evidence_app.desk.register import COPIES
from evidence_app.language import say, say_many
from evidence_app.sentence import sentences_beside

_STATES = sentences_beside(__file__)["states"]


class Arrival(Struct, frozen=True):
    """One package. ``good``: nothing fails and nothing else is remarkable; ``package`` is its
    number in the register, None when it was not received."""

    name: str
    state: str
    words: tuple[str, ...]
    good: bool
    package: int | None


def arrival_of(taken: Taken) -> Arrival:
    name = Path(str(taken.path)).name
    if taken.package is None:
        return Arrival(name, say(_STATES["not-received"]), (say(taken.sentence),), False, None)
    words = [say(taken.checked.overall)] if taken.checked else []
    if taken.exit_status and not taken.checked:
        words.append(say("Its latest check does not hold."))
    before = shown_before(taken.reused)
    if before:
        words.append(before_words(before))
    if taken.conflicts:
        words.append(say("Another package says it is of the same job."))
    return Arrival(
        name=name,
        state=say(_STATES[taken.state].template, number=taken.package),
        words=tuple(words),
        good=not (before or taken.conflicts or taken.exit_status),
        package=taken.package,
    )


def shown_before(reused) -> int:
    """How many photos seem to have been shown in another job."""
    return len({each["path"] for each in reused if each["verdict"] in COPIES})


def before_words(count: int) -> str:
    return say_many(
        "{count} photo was shown before in another job.",
        "{count} photos were shown before in other jobs.",
        count,
    )
