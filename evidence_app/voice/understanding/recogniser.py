"""Which of the phrases allowed now was said, or which value; otherwise what was said.

The likeliest text is taken when it is a phrase or a value as it stands. Otherwise the
allowed phrases are compared with it by their probability: the best one is taken when it
is not much less likely than the free text and clearly likelier than any other. So noise
and other talk, whose own text is far likelier than any phrase, stay what they are.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Protocol

import numpy as np

from evidence_app.voice.note.wav import RATE
from evidence_app.voice.understanding import speech_model
from evidence_app.voice.understanding.grammar import plain
from evidence_app.voice.understanding.words import ENGLISH, Words

# Natural logarithms of probabilities, set on the development voices of tests/bench/voice.
PHRASE_BELOW_FREE = 2.5  # for each word a phrase may be so much less likely than the free text
PHRASE_BELOW_FREE_MOST = 8.0
PHRASE_OVER_NEXT = 5.5  # and must be so much likelier than one for another action
VALUE_BELOW_FREE = 4.0
VALUE_OVER_NEXT = 1.0
LEAST_S_A_WORD, LEAST_S = 0.13, 0.55  # the quiet at both ends is part of an utterance
MOST_S_A_WORD, MOST_S = 0.6, 1.2
MORE_WORDS = 3
ENOUGH_SURE = 1.3  # the most doubt for each word of a value, its end counting as one

ValueOf = Callable[[str], str | None]


class Recogniser(Protocol):
    """What the listener and the transcripts need of an engine."""

    name: str
    version: str

    def hear(
        self, samples: np.ndarray, phrases: Mapping[str, str], value_of: ValueOf | None = None
    ) -> str:
        """One of ``phrases`` (phrase -> action), a text that ``value_of`` reads, or else
        the text as it was heard. ``samples``: int16 at 16 kHz, shape (n,)."""

    def write(self, samples: np.ndarray) -> str:
        """What was said, freely."""


class SpeechRecogniser:
    """The recogniser on the speech model. Raises VoiceError when it cannot be loaded."""

    name = speech_model.NAME
    version = speech_model.VERSION

    def __init__(
        self, folder: Path | None = None, threads: int = 1, words: Words = ENGLISH
    ) -> None:
        self._model = speech_model.SpeechModel(folder, threads)
        self._value_tokens = _value_tokens(self._model, words)

    def write(self, samples: np.ndarray) -> str:
        return self._model.listen(_level(samples)).freely()[0]

    def hear(
        self, samples: np.ndarray, phrases: Mapping[str, str], value_of: ValueOf | None = None
    ) -> str:
        heard = self._model.listen(_level(samples))
        text, free = heard.freely()
        if plain(text) in phrases:
            return text
        fitting = [name for name in phrases if _fits(name, text, len(samples) / RATE)]
        # What is less likely is neither taken itself nor near to one that is.
        least = free - PHRASE_BELOW_FREE_MOST - PHRASE_OVER_NEXT
        scores = heard.probability([_as_written(name) for name in fitting], least)
        by_phrase = dict(zip(fitting, map(float, scores), strict=True))
        if value_of is not None:
            value = self._value(
                heard, text, free, max(by_phrase.values(), default=-np.inf), value_of
            )
            if value is not None:
                return value
            if value_of(text) is not None:
                return ""  # a value too doubtful to take is no phrase either, nor a value
        return _phrase(by_phrase, free, phrases) or text

    def _value(
        self, heard: speech_model.Heard, text: str, free: float, phrase: float, value_of: ValueOf
    ) -> str | None:
        """A text that is a value, when no phrase and no other value is nearly as likely."""
        by_value: dict[str, tuple[float, str]] = {}
        for found, score in [(text, free), *heard.among(self._value_tokens)]:
            value = value_of(found)
            if value is not None and score > by_value.get(value, (-np.inf, ""))[0]:
                by_value[value] = (score, found)
        ranked = sorted(by_value.values(), reverse=True)
        if not ranked or ranked[0][0] < max(free - VALUE_BELOW_FREE, phrase):
            return None
        if len(ranked) > 1 and ranked[0][0] < ranked[1][0] + VALUE_OVER_NEXT:
            return None
        score, found = ranked[0]
        return found if -score <= ENOUGH_SURE * (1 + len(found.split())) else None


def _phrase(by_phrase: Mapping[str, float], free: float, actions: Mapping[str, str]) -> str | None:
    """The likeliest phrase, when it is likely enough and no other action's is nearly so."""
    if not by_phrase:
        return None
    best = max(by_phrase, key=by_phrase.__getitem__)
    others = [p for name, p in by_phrase.items() if actions[name] != actions[best]]
    below = min(PHRASE_BELOW_FREE_MOST, PHRASE_BELOW_FREE * len(best.split()))
    enough = by_phrase[best] >= free - below
    clear = by_phrase[best] >= max(others, default=-np.inf) + PHRASE_OVER_NEXT
    return best if enough and clear else None


def _fits(phrase: str, text: str, seconds: float) -> bool:
    """Whether so long a sound can be the phrase: a long one has free texts that are hardly
    likelier than any short phrase."""
    words = len(phrase.split())
    return (
        LEAST_S + LEAST_S_A_WORD * words <= seconds <= MOST_S + MOST_S_A_WORD * words
        and len(text.split()) <= words + MORE_WORDS
    )


def _level(samples: np.ndarray) -> np.ndarray:
    """Brought to the loudness the model was made for; never louder than full scale."""
    peak = int(np.abs(samples.astype(np.int32)).max(initial=0))
    if peak == 0 or peak > 16_000:
        return samples
    return (samples.astype(np.float32) * min(16_000 / peak, 30)).astype(np.int16)


def _as_written(phrase: str) -> str:
    """As the engine writes a sentence."""
    written = " ".join("I" if word == "i" else word for word in phrase.split())
    for answer in ("yes", "no"):
        if written.startswith(f"{answer} "):
            written = f"{answer},{written[len(answer) :]}"
    return written[0].upper() + written[1:]


def _value_tokens(model: speech_model.SpeechModel, words: Words) -> np.ndarray:
    """The tokens of which numbers, units and spelled letters can be made."""
    units = [form for forms in words.units.values() for form in forms]
    spoken = [
        *words.digits,
        *words.small,
        *words.tens,
        *words.scales,
        words.joiner,
        "a",
        *words.point,
        *words.minus,
        *words.spelling,
        "x-ray",
        *units,
    ]
    texts = [form for word in spoken for form in (word, word.capitalize(), f"-{word}")]
    texts += [f"{n}" for n in range(100)] + [f"1{mark}1" for mark in (".", ",", "-", ", ", ". ")]
    tokens = {token for text in texts for token in model.tokens_of(text)}
    tokens |= {token for text in texts for token in model.tokens_of(f"1 {text}")}
    return np.array(sorted(tokens))
