"""What may be said at this moment, and what an utterance means then. A closed grammar.

``Allowed`` is made anew from the job's state for each utterance. An utterance is one of
the phrases, whole, or a value that is asked for, whole; everything else means nothing,
but for a denial while a question is open: any word of denial in it makes it a no.
"""

import re
from collections.abc import Callable, Mapping
from typing import Literal

from msgspec import Struct

from evidence_app.sentence import NOTHING, Sentence, sentence
from evidence_app.voice.understanding.numbers import NotAValue, spoken_number, spoken_serial
from evidence_app.voice.understanding.words import ENGLISH, PLAIN, Lexicon

FINDINGS = ("clear", "not-clear", "cannot-tell")
"""Actions that give a finding: read back and confirmed before they are recorded."""

CONFIRM, REJECT, UNSURE = "confirm", "reject", "unsure"
"""What answers say: yes, no, something near to a yes or a yes to another question."""

NEITHER, NEAR = "neither", "near"
"""What is near to a phrase only, and what is near to a yes only."""

OPPOSED, ALIKE = "opposed", "alike"
"""Near to a phrase too: what it has to be clear of by far, and what need only not be likelier."""

STOP, NEAR_STOP = "stop-repair", "near-stop"

WAIT = "wait"
"""Ends what is read aloud; open only meanwhile."""


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
    outside: Callable[[str], Sentence | None] | None = None


class Allowed(Struct, frozen=True):
    """``place`` names where the job stands; a question asked elsewhere is void.

    ``refusals``: why an action that is known is not open now, where a reason helps.
    ``warnings``: what an action leads to, said before it is confirmed. An action with a
    warning is confirmed by naming it, never by a mere yes. ``silent``: what is not open now
    is not even refused. ``yes``: whether a yes counts, or is only near to one.
    ``own``: action -> phrases that are open here alone, made of what is shown; ``near`` only
    sound like them: phrase -> in which way.
    """

    place: str
    actions: frozenset[str]
    reading: AskedReading | None = None
    refusals: dict[str, Sentence] = {}
    warnings: dict[str, Sentence] = {}
    silent: bool = False
    yes: bool = True
    own: dict[str, tuple[str, ...]] = {}
    near: dict[str, str] = {}


class Said(Struct, frozen=True):
    """An utterance that is understood: an action, an answer, or a value for the reading."""

    action: str
    value: str | None = None


class NotSaid(Struct, frozen=True):
    """Not understood. ``talk``: it was not meant for the app. ``sentence`` says why not."""

    code: Literal["talk", "nothing-asked", "not-open", "no-value"] = "talk"
    sentence: Sentence = NOTHING
    action: str | None = None


def while_it_speaks(allowed: Allowed) -> Allowed:
    """What is open to who speaks into what the app says: a stop, an end of it, a no. What the
    app says may itself hold a yes, so that none counts before it has been asked for again."""
    actions = allowed.actions & {STOP, WAIT}
    return Allowed(allowed.place, actions, warnings=allowed.warnings, silent=True, yes=False)


def phrases_for(allowed: Allowed, question: str | None = None, words: Lexicon = ENGLISH) -> dict[str, str]:
    """phrase -> action, of all that may be said now, with what only sounds like it.

    ``question``: None, ``PLAIN``, or the action that waits to be confirmed by its name.
    """
    open_now = {a: ps for a, ps in words.phrases.items() if a in allowed.actions} | allowed.own
    known = {phrase: action for action, phrases in open_now.items() for phrase in phrases}
    denied = [f"{no} {phrase}" for no in words.denied for phrase in known]
    denied += [p.replace(",", f", {no}") for ps in allowed.own.values() for p in ps for no in words.denied]
    found = dict.fromkeys([*words.near_phrases, *denied], NEITHER) | allowed.near
    stops = STOP in allowed.actions and question != STOP
    found |= dict.fromkeys(words.near_stops, NEAR_STOP if stops else NEITHER)
    if question is not None:
        found |= dict.fromkeys(words.near_answers, NEAR)
        found |= dict.fromkeys((phrase for phrases in words.answers.values() for phrase in phrases), UNSURE)
        found |= dict.fromkeys(words.rejections, REJECT)
        for answer in words.answers[question]:
            found |= {answer: CONFIRM if allowed.yes else UNSURE, f"{answer} no": REJECT}
        # What is asked about, said once more, is near to its yes and denies nothing.
        known |= dict.fromkeys((p for p, action in known.items() if action == question), NEAR)
    return found | known


def understand(
    text: str, allowed: Allowed, question: str | None = None, words: Lexicon = ENGLISH
) -> Said | NotSaid:
    """What ``text``, as the engine wrote it, means now."""
    said = plain(text, words)
    if question is not None:
        answer = _answer(text, said, question, words)
        if answer is not None:
            return Said(UNSURE if answer == CONFIRM and not allowed.yes else answer)
    if said in words.near_stops and STOP in allowed.actions:
        return Said(NEAR_STOP)
    own = _action_of(said, allowed.own, words)
    action = own or _action_of(said, words.phrases, words)
    if action is not None:
        if own or action in allowed.actions:
            return Said(action)
        if allowed.silent or action == WAIT:  # where nothing is read, it is said to others
            return NotSaid()
        told = allowed.refusals.get(action, sentence("That cannot be done now."))
        return NotSaid("not-open", told, action)
    if question is not None and denials(text, words):
        return Said(REJECT)
    if said in words.answers[PLAIN] or said in words.rejections[:2]:
        return NotSaid("nothing-asked", sentence("Nothing waits for an answer."))
    value = read_value(text, allowed, words)
    if isinstance(value, str):
        return Said("reading", value)
    if question is not None and (not said or words.answering.intersection(said.split())):
        return Said(UNSURE)
    if value is not None and allowed.reading and _seems_a_value(said, allowed.reading, words):
        return NotSaid("no-value", value.sentence)
    return NotSaid()


def read_value(text: str, allowed: Allowed, words: Lexicon = ENGLISH) -> str | NotAValue | None:
    """``text`` as a value of the reading that is asked for; None when none is."""
    asked = allowed.reading
    if asked is None:
        return None
    if asked.text:
        return spoken_serial(text, words)
    return spoken_number(text, asked.unit, asked.decimals, words)


def plain(text: str, words: Lexicon = ENGLISH) -> str:
    """Lower case, no punctuation, no short forms, without words that mean nothing."""
    return " ".join(w for w in _words(text) if w not in words.fillers)


def denials(text: str, words: Lexicon = ENGLISH) -> int:
    """How many words of denial there are."""
    return sum(word in words.denials for word in _words(text))


def _words(text: str) -> list[str]:
    lower = text.lower().replace("’", "'")
    lower = re.sub(r"\b(can't|cant|cannot)\b", "can not", lower)
    lower = re.sub(r"\b([a-z]+)n't\b", r"\1 not", lower)
    lower = re.sub(r"\b(isn|don|doesn|wasn|didn|isnt|dont)\b", "not", lower)
    lower = re.sub(r"'s\b", " is", lower)
    return re.findall(r"[^\W_]+", lower)


def _answer(text: str, said: str, question: str, words: Lexicon) -> str | None:
    """The answer that the whole of ``text`` is, None when it is none."""
    forms = {plain(p, words): CONFIRM for p in words.answers[question]}
    if said in forms:
        return CONFIRM
    if said in {plain(p, words) for p in words.rejections}:
        return REJECT
    near = {plain(p, words) for p in words.near_answers}
    near |= {plain(p, words) for phrases in words.answers.values() for p in phrases}
    return UNSURE if said in near else None


def _action_of(said: str, phrases: Mapping[str, tuple[str, ...]], words: Lexicon) -> str | None:
    return next((a for a, ps in phrases.items() if said in {plain(p, words) for p in ps}), None)


def _seems_a_value(said: str, asked: AskedReading, words: Lexicon) -> bool:
    """Whether most of the words are of the kind asked for, so that a word of help is due."""
    known = {*words.digits, *words.small, *words.tens, *words.scales, *words.point, *words.minus}
    if asked.text:
        known = {*words.spelling, *words.digits}
    tokens = said.split()
    return 2 * sum(t in known or t.isdigit() for t in tokens) > len(tokens)
