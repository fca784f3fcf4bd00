"""What may be said at this moment, and what an utterance means then. A closed grammar.

``Allowed`` is made anew from the job's state for each utterance. An utterance is one of
the phrases, whole, or a value that is asked for, whole; everything else means nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from msgspec import Struct

from evidence_app.voice.understanding.numbers import NotAValue, spoken_number, spoken_serial
from evidence_app.voice.understanding.words import ENGLISH, Words

FINDINGS = ("clear", "not-clear", "cannot-tell")
"""Actions that give a finding: read back and confirmed before they are recorded."""

ANSWERS = ("confirm", "reject")
"""Only understood while something was read back."""


class AskedReading(Struct, frozen=True):
    """A reading that may be spoken now.

    ``text``: a serial in the spelling alphabet, otherwise a number. ``outside`` gives a
    sentence when a value lies outside its limits, None when it does not.
    """

    id: str
    name: str
    unit: str | None = None
    decimals: int = 0
    text: bool = False
    outside: Callable[[str], str | None] | None = None


class Allowed(Struct, frozen=True):
    """``place`` names where the job stands; a question asked elsewhere is void.

    ``refusals``: why an action that is known is not open now, where a reason helps.
    ``warnings``: what an action leads to, said before it is confirmed.
    """

    place: str
    actions: frozenset[str]
    reading: AskedReading | None = None
    refusals: dict[str, str] = {}
    warnings: dict[str, str] = {}


class Said(Struct, frozen=True):
    """An utterance that is understood: an action, or a value for the reading asked for."""

    action: str
    value: str | None = None


class NotSaid(Struct, frozen=True):
    """Not understood. ``sentence`` is None for talk that was not meant for the app."""

    sentence: str | None = None


def phrases_for(allowed: Allowed, waiting: bool, words: Words = ENGLISH) -> dict[str, str]:
    """phrase -> action, of all that may be said now; ``waiting`` for an answer or not."""
    actions = set(allowed.actions) | (set(ANSWERS) if waiting else set())
    return {
        phrase: action
        for action, phrases in words.phrases.items()
        if action in actions
        for phrase in phrases
    }


def understand(
    text: str, allowed: Allowed, waiting: bool = False, words: Words = ENGLISH
) -> Said | NotSaid:
    """What ``text``, as the engine wrote it, means now."""
    said = plain(text, words)
    said = words.heard_as.get(said, said)
    action = _action_of(said, words)
    if action is not None:
        if action in allowed.actions or (waiting and action in ANSWERS):
            return Said(action)
        if action in ANSWERS:
            return NotSaid("Nothing waits for an answer.")
        return NotSaid(allowed.refusals.get(action, "That cannot be done now."))
    if allowed.reading is None:
        return NotSaid()
    asked = allowed.reading
    value = (
        spoken_serial(text, words)
        if asked.text
        else spoken_number(text, asked.unit, asked.decimals, words)
    )
    if isinstance(value, NotAValue):
        return NotSaid(value.sentence if _seems_a_value(said, asked, words) else None)
    return Said("reading", value)


def plain(text: str, words: Words = ENGLISH) -> str:
    """Lower case, no punctuation, single blanks, without words that mean nothing."""
    lower = re.sub(r"\bcan['’]?t\b", "cannot", text.lower()).replace("can not", "cannot")
    lower = re.sub(r"['’]s\b", " is", lower)
    return " ".join(w for w in re.findall(r"[^\W_]+", lower) if w not in words.fillers)


def _action_of(said: str, words: Words) -> str | None:
    return next((a for a, phrases in words.phrases.items() if said in phrases), None)


def _seems_a_value(said: str, asked: AskedReading, words: Words) -> bool:
    """Whether most of the words are of the kind asked for, so that a word of help is due."""
    known = {*words.digits, *words.small, *words.tens, *words.scales, *words.point, *words.minus}
    if asked.text:
        known = {*words.spelling, *words.digits}
    tokens = said.split()
    return 2 * sum(t in known or t.isdigit() for t in tokens) > len(tokens)
