"""One part of a machine and whether it works, as every check here answers."""

from collections.abc import Callable
from typing import Literal

from msgspec import Struct

from evidence_app.errors import EvidenceError
from evidence_app.sentence import NOTHING, Sentence

State = Literal["works", "limited", "fails"]


class MachinePart(Struct, frozen=True):
    """``name`` is the part's, ``told`` what was found, ``remedy`` what to do, empty where it
    works. ``limited``: the work goes on without it, or with less of it."""

    name: Sentence
    state: State
    told: Sentence
    remedy: Sentence = NOTHING

    def words(self, say: Callable[[Sentence], str] = str) -> str:
        """What was found and what to do, as whole sentences; ``say`` gives a sentence's text
        in the language wanted, English without it."""
        return " ".join(_whole(say(each)) for each in (self.told, self.remedy) if each)


def tried(name: Sentence, look: Callable[[], MachinePart], otherwise: State = "fails") -> MachinePart:
    """What ``look`` finds; the error that it meets as a MachinePart in the state ``otherwise``."""
    try:
        return look()
    except EvidenceError as error:
        return MachinePart(name, otherwise, error.what, error.remedy)


def _whole(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}{'' if text[-1] in '.?!' else '.'}"
