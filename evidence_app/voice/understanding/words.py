"""Every word that is understood, in one place, for one language.

A language is one ``Lexicon``, read from the file of its name (``english.toml``). Phrases
were chosen so that no one of them is a part of another, that each has several syllables, and
that the engine tells them apart. What a phrase is for is an action's name, the same name by
which touch and keys reach it. To add a language, write another such file; nothing else knows
a word.
"""

from pathlib import Path

import msgspec


class Lexicon(msgspec.Struct, frozen=True):
    """The words of one language, all lower case, without punctuation.

    ``phrases``: action -> what may be said for it, the first being the one that help
    names. ``answers``: what says yes, for ``PLAIN`` questions and for each action that is
    confirmed by naming it; the first is the one that is asked for. ``rejections`` say no;
    ``near_answers`` and ``near_phrases`` sound like a yes or a phrase and are neither.
    ``near_stops``: what is near to a stop, the first being what the engine says of it.
    ``denied``: what is put before a phrase to say its opposite. ``denials``: a word of them
    in an answer makes it a no, whatever else was heard. ``answering``: a word of them in
    what is not understood has the question asked again.
    ``zero_before_point``: what else the engine writes for a zero there, ``behind_point`` for
    digits. ``misheard``: what it writes with a denial for what has none.
    ``units``: the unit as a step list writes it -> how it is spoken.
    """

    language: str
    phrases: dict[str, tuple[str, ...]]
    answers: dict[str, tuple[str, ...]]
    rejections: tuple[str, ...]
    near_answers: tuple[str, ...]
    near_phrases: tuple[str, ...]
    near_stops: tuple[str, ...]
    denied: tuple[str, ...]
    denials: frozenset[str]
    answering: frozenset[str]
    fillers: frozenset[str]
    hesitations: tuple[str, ...]
    units: dict[str, tuple[str, ...]]
    digits: dict[str, str]
    small: dict[str, int]
    tens: dict[str, int]
    scales: dict[str, int]
    parts: dict[str, tuple[int, int]]
    joiner: str
    point: frozenset[str]
    zero_before_point: frozenset[str]
    behind_point: dict[str, str]
    misheard: dict[str, str]
    minus: frozenset[str]
    spelling: dict[str, str]


PLAIN = "plain"
"""The question that any yes answers."""

ENGLISH = msgspec.toml.decode(Path(__file__).with_name("english.toml").read_bytes(), type=Lexicon)
