"""How a caution and an item to tick are named aloud: by words of the step list's own.

The words are those of the identifier, which a step list's author chose; where it is none of
words, the first three of the text. Both are told on the screen and aloud before they are asked.
"""

import re

from evidence_app.steplist.model import Caution, Item
from evidence_app.voice.understanding.grammar import ALIKE, OPPOSED

ITEMS = "items"
"""What is told once all cautions are acknowledged, as a caution's identifier names that."""

_OPPOSED = ("unchecked", "isn't checked", "not checked", "chucked", "choked", "wrecked",
            "was never checked", "never checked")  # fmt: skip
_MOST_WORDS = 3
_LEAST_LETTERS = 3  # "c1" and "nr" are no words to say


def key_words(caution: Caution) -> tuple[str, ...]:
    """What is said back to acknowledge it: "warning, broken glass"."""
    return _with_comma(caution.signal.value.lower(), _words(caution.id, caution.hazard))


def checked(item: Item) -> tuple[str, ...]:
    """What is said to tick it: "scale card, checked"."""
    return _with_comma(_words(item.id, item.name), "checked")


def not_checked(item: Item) -> dict[str, str]:
    """What sounds like it and is not, as ``Allowed.near``. "Jacked" is what the engine nearly makes
    of many a "checked"."""
    name = _words(item.id, item.name)
    return {f"{name} {said}": OPPOSED for said in _OPPOSED} | {f"{name} jacked": ALIKE}


def _with_comma(*words: str) -> tuple[str, ...]:
    """And without it; a comma is also where the opposite is said."""
    return ", ".join(words), " ".join(words)


def _words(identifier: str, text: str) -> str:
    words = identifier.split("-")
    if not all(word.isalpha() and len(word) >= _LEAST_LETTERS for word in words):
        words = re.findall(r"[a-z]+", text.lower())[:_MOST_WORDS]
    return " ".join(words)
