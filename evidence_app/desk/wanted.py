"""What is looked for in the register."""

from msgspec import Struct

from evidence_app.errors import RegisterError
from evidence_app.sentence import sentence


class Wanted(Struct, frozen=True):
    """What to look for; everything given must fit. Of a serial or claim number, a name, a
    fingerprint or a step list's id a part is enough, in any case of letters. Dates are
    ``YYYY-MM-DD``, of the closing in UTC, both ends included; ``text`` is words in notes and
    reasons, the last one may be a beginning. ``anything`` looks in all of these at once.
    ``waiting`` and ``fail_class`` are those of ``worklist``; ``received`` are package numbers."""

    serial: str | None = None
    claim: str | None = None
    technician: str | None = None
    outcome: str | None = None
    decision: str | None = None
    since: str | None = None
    until: str | None = None
    text: str | None = None
    fingerprint: str | None = None
    step_list: str | None = None
    anything: str | None = None
    waiting: str | None = None
    fail_class: str | None = None
    received: tuple[int, ...] | None = None


def text_match(text: str) -> str:
    """Every word, each taken as it is written; FTS5's own operators mean nothing here."""
    words = [word.replace('"', '""') for word in text.split()]
    if not words:
        raise RegisterError(
            sentence("there is no word to look for"), remedy=sentence("give at least one word")
        )
    return " ".join(f'"{word}"' for word in words) + "*"
