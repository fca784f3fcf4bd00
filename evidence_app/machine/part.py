"""One part of a machine and whether it works, as every check here answers."""

from collections.abc import Callable
from functools import wraps
from typing import Literal, ParamSpec

from msgspec import Struct

from evidence_app.errors import EvidenceError, not_installed
from evidence_app.sentence import NOTHING, Sentence, sentences_beside

State = Literal["works", "limited", "fails"]
STATE_WORDS: dict[State, Sentence] = sentences_beside(__file__)["states"]
Asked = ParamSpec("Asked")


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


Looked = tuple[State, Sentence] | tuple[State, Sentence, Sentence]
"""What a look at a part gives: its state, what was found, what to do."""


def tried(
    name: Sentence, otherwise: State = "fails"
) -> Callable[[Callable[Asked, Looked]], Callable[Asked, MachinePart]]:
    """For a look at the part ``name``: an error that it meets is the state ``otherwise``."""

    def answering(look: Callable[Asked, Looked]) -> Callable[Asked, MachinePart]:
        @wraps(look)
        def answer(*asked: Asked.args, **named: Asked.kwargs) -> MachinePart:
            try:
                return MachinePart(name, *look(*asked, **named))
            except EvidenceError as error:
                told = error
            except ModuleNotFoundError as error:
                told = not_installed(error)
            return MachinePart(name, otherwise, told.what, told.remedy)

        return answer

    return answering


def _whole(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}{'' if text[-1] in '.?!' else '.'}"
