"""Which of the phrases allowed now was said, or which value; otherwise what was said.

The likeliest text is decoded freely, and the allowed phrases, with those that only sound
like them, are compared with it by their probability. The best phrase is taken when it is
not much less likely than the free text, clearly likelier than any of another meaning, and
when a free text that is likelier has no word of denial that the phrase has not. So noise and other talk,
whose own text is far likelier than any phrase, stay what they are, and a denial is no yes.
A yes has to stand out further than a command, which can be taken back or is asked back;
what is neither a yes nor denies is listened to once more, with less silence around it.
"""

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from functools import lru_cache, partial
from pathlib import Path
from typing import Protocol

import numpy as np

from evidence_app.voice.note.wav import RATE
from evidence_app.voice.understanding import grammar, speech_model
from evidence_app.voice.understanding.numbers import NotAValue, confusable_with
from evidence_app.voice.understanding.value_paths import Paths, number_graph, serial_graph
from evidence_app.voice.understanding.words import ENGLISH, Lexicon

# Natural logarithms of probabilities, set on the development voices of tests/bench/voice.
PHRASE_BELOW_FREE = 2.5  # for each word a phrase may be so much less likely than the free text
PHRASE_BELOW_FREE_MOST = 8.0
STOP_BELOW_FREE, A_WORD_BELOW_FREE = 6.0, 4.0  # what may be a stop; of one word
STOP_MOST_WORDS = 6  # of a free text that begins with one
PHRASE_OVER_NEXT = 5.5  # and must be so much likelier than one for another action
NEAR_OVER_NEXT = 2.0  # the same over what is only near to a phrase, or its opposite
OVER_OPPOSED, OVER_ALIKE = 4.0, 0.0  # over what is near to a phrase in these ways
WRITTEN_OVER_NEXT = 1.5  # the same for a phrase that the free text is, word for word
ANSWER_BELOW_FREE = 2.0
ANSWER_OVER_NEXT = 2.5
ANSWER_OVER_NEAR = 1.0  # the same over what is only near to a yes and denies nothing
VALUE_BELOW_FREE = 7.0
VALUE_OVER_NEXT = 1.0
STRANGE_BELOW_FREE, STRANGE_OVER_NEXT = 3.0, 2.5  # for numerals that are not in the free text
VALUE_OVER_TWIN = 2.0  # fourteen over forty
FOUR_OVER_OH = 4.5  # four point two over oh point two
HUNDRED_TOO_LIKELY = 4.5  # beside hundredths, whose end is hardly heard
VALUE_OVER_PART = 1.5  # and the margin between the two
LEAST_S_A_WORD, LEAST_S = 0.13, 0.5  # the quiet at both ends is part of an utterance
MOST_S_A_WORD, MOST_S = 0.6, 0.8
MORE_WORDS = 3
MOST_S_A_DIGIT, MOST_S_AROUND = 0.35, 1.1  # of a value, with the quiet at both ends
ENOUGH_SURE = 2.4  # the most doubt for each word of a value, its end counting as one
_AROUND = round(0.3 * RATE)  # of silence at both ends: the model takes less for a cut word
_KEPT_PATHS = 32
_ONLY_NEAR = (grammar.NEITHER, grammar.NEAR, grammar.NEAR_STOP)
_NO_PHRASE = (grammar.NEITHER, grammar.NEAR_STOP, grammar.OPPOSED, grammar.ALIKE)


class Recogniser(Protocol):
    """What the listener and the transcripts need of an engine."""

    name: str
    version: str

    def hear(
        self, samples: np.ndarray, phrases: Mapping[str, str], asked: grammar.AskedReading | None = None
    ) -> str:
        """One of ``phrases`` (phrase -> action), a text that is a value for ``asked``, or
        else the text as it was heard; nothing when two of them are too near to each other.
        ``samples``: int16 at 16 kHz, shape (n,)."""

    def write(self, samples: np.ndarray) -> str:
        """What was said, freely."""


class SpeechRecogniser:
    """The recogniser on the speech model. Raises VoiceError when it cannot be loaded."""

    name = speech_model.NAME
    version = speech_model.VERSION

    def __init__(self, folder: Path | None = None, threads: int = 1, words: Lexicon = ENGLISH) -> None:
        self._model = speech_model.SpeechModel(folder, threads)
        self._words = words
        # Not a method of its own, which would hold the model in a circle until a collector comes.
        self._paths = lru_cache(_KEPT_PATHS)(partial(_paths_of, words, self._model.spell))

    def write(self, samples: np.ndarray) -> str:
        return self._model.listen(_level(samples)).freely()[0]

    def hear(
        self, samples: np.ndarray, phrases: Mapping[str, str], asked: grammar.AskedReading | None = None
    ) -> str:
        seconds = len(samples) / RATE
        text = self._hear(np.pad(_level(samples), _AROUND), seconds, phrases, asked)
        value = asked is not None and isinstance(self._read(text, asked), str)
        sure = not text or text in phrases or value or grammar.denials(text, self._words) > 0
        if sure or grammar.CONFIRM not in phrases.values():
            return text
        # Nothing in it denies, and it is no yes: it may be one with its own quiet alone.
        again = self._hear(_level(samples), seconds, phrases, None)
        return again if phrases.get(again) == grammar.CONFIRM else text

    def _hear(
        self,
        samples: np.ndarray,
        seconds: float,
        phrases: Mapping[str, str],
        asked: grammar.AskedReading | None,
    ) -> str:
        """``seconds``: of the utterance, without what is set around it."""
        heard = self._model.listen(samples)
        text, free = heard.freely()
        begun, stops = self._begun(text), self._words.phrases[grammar.STOP]
        forms = {
            form: name
            for name in phrases
            for form in _as_written(name, phrases[name] == grammar.CONFIRM or name in stops, begun)
            if _fits(form, text, seconds)
        }
        # What is less likely is neither taken itself nor near to one that is.
        least = free - PHRASE_BELOW_FREE_MOST - PHRASE_OVER_NEXT
        by_phrase: dict[str, float] = {}
        lengths: dict[str, int] = {}  # in words, of the likeliest form
        for (form, name), score in zip(forms.items(), heard.probability(list(forms), least), strict=True):
            if score >= by_phrase.get(name, -np.inf):
                by_phrase[name], lengths[name] = float(score), len(form.split())
        said = grammar.plain(text, self._words)
        written = next((name for name in phrases if grammar.plain(name, self._words) == said), None)
        if written is not None:
            # The mark at its end is not part of a phrase.
            by_phrase[written] = max(free, by_phrase.get(written, -np.inf))
            lengths.setdefault(written, len(written.split()))
        best = _phrase(by_phrase, lengths, free, phrases, written)
        before, stop, _ = text.lower().partition(stops[0].split()[0])
        if best is not None:
            # Behind a stop nothing takes it back: it only asks.
            told = before if phrases[best] == grammar.STOP else text
            for wrong, right in self._words.misheard.items():
                told = told.replace(wrong, right)
            more = grammar.denials(told, self._words) > grammar.denials(best, self._words)
            if phrases[best] == grammar.CONFIRM:
                # A yes with a denial in it, or that goes on behind its end, is asked again.
                _, _, behind = f" {said} ".partition(f" {best.split()[-1]} ")
                return "" if behind or (more and by_phrase[best] < free) else best
            return text if more and by_phrase[best] < free else best
        if asked is not None and written is None:
            own = [p for name, p in by_phrase.items() if phrases[name] not in _NO_PHRASE]
            value = self._value(heard, text, free, max(own, default=-np.inf), asked, seconds)
            if value is not None:
                return value
            if isinstance(self._read(text, asked), str):
                return ""  # a value too doubtful to take is no phrase either, nor a value
        denied = text if grammar.CONFIRM in phrases.values() else before
        if not grammar.denials(denied, self._words) and grammar.STOP in phrases.values():
            begins = bool(stop) and not before and len(text.split()) <= STOP_MOST_WORDS
            if begins or _may_stop(by_phrase, free, phrases):
                return self._words.near_stops[0]
        return "" if written is not None else text

    def _begun(self, text: str) -> str:
        """What the engine wrote for a sound of hesitation before a yes: "I'm", "Oh,"."""
        before, yes, _ = text.lower().partition(" yes")
        return (
            f"{before} "
            if yes and len(before.split()) == 1 and not grammar.denials(before, self._words)
            else ""
        )

    def _value(
        self,
        heard: speech_model.Heard,
        text: str,
        free: float,
        phrase: float,
        asked: grammar.AskedReading,
        seconds: float,
    ) -> str | None:
        """A text that is a value, when no phrase and no other value is nearly as likely."""
        least = free - VALUE_BELOW_FREE - VALUE_OVER_NEXT
        by_text = dict(heard.along(self._paths(asked), least))
        own = text.rstrip(".?!")
        by_text.setdefault(own, free)
        by_value: dict[str, tuple[float, str]] = {}  # all wordings together, and the likeliest
        for found, score in sorted(by_text.items(), key=lambda told: -told[1]):
            value = self._read(found, asked)
            each = MOST_S_A_WORD if asked.text else MOST_S_A_DIGIT  # spelling is slower
            fits = found == own or seconds <= MOST_S_AROUND + each * _spoken_words(found)
            if isinstance(value, str) and fits:
                before, first = by_value.get(value, (-np.inf, found))
                by_value[value] = float(np.logaddexp(before, score)), first
        if not by_value:
            return None

        def likely(value: str) -> float:
            """With what a hundred is too likely where hundredths may be meant."""
            part = not asked.text and any(_is_part(other, value) for other in by_value)
            return by_value[value][0] - HUNDRED_TOO_LIKELY * part

        best, *others = sorted(by_value, key=likely, reverse=True)
        score, found = by_value[best]
        strange = not asked.text and found[0].isdigit() and self._read(text, asked) != best
        if score < max(free - (STRANGE_BELOW_FREE if strange else VALUE_BELOW_FREE), phrase):
            return None
        for other in others:
            wanted = VALUE_OVER_NEXT if asked.text else _clear_of(best, other, strange)
            cut_off = not asked.text and re.match(re.escape(by_value[other][1]) + "[ .,]", found)
            if likely(best) < likely(other) + (0 if cut_off else wanted):
                return None
        return found if -score <= ENOUGH_SURE * (1 + _spoken_words(found)) else None

    def _read(self, text: str, asked: grammar.AskedReading) -> str | NotAValue | None:
        return grammar.read_value(text, grammar.Allowed("", frozenset(), asked), self._words)


def _paths_of(words: Lexicon, spell: Callable[[str], list[int]], asked: grammar.AskedReading) -> Paths:
    graph = serial_graph(words) if asked.text else number_graph(words, asked.unit, asked.decimals)
    return Paths(graph, spell)


def _spoken_words(value: str) -> int:
    """How many words a value is: of one in numerals, each digit and the point."""
    words = value.rstrip(".?!").split()
    return sum(max(1, sum(sign.isdigit() or sign == "." for sign in word)) for word in words)


def _clear_of(one: str, other: str, strange: bool) -> float:
    """By how much ``one`` is to be likelier than ``other``: more where both sound the same,
    or where it is ``strange``: numerals that the free text has not."""
    if confusable_with(one) == other:
        return VALUE_OVER_TWIN
    if one.startswith("4.") and other == f"0{one[1:]}":
        return FOUR_OVER_OH
    if _is_part(one, other) or _is_part(other, one):
        return VALUE_OVER_PART
    return STRANGE_OVER_NEXT if strange else VALUE_OVER_NEXT


def _is_part(small: str, large: str) -> bool:
    """Nine hundredths and nine hundred."""
    return 10_000 * Decimal(small) == Decimal(large) != 0


def _phrase(
    by_phrase: Mapping[str, float],
    lengths: Mapping[str, int],
    free: float,
    actions: Mapping[str, str],
    written: str | None,
) -> str | None:
    """The likeliest phrase, when it is likely enough and no other action's is nearly so."""
    if not by_phrase:
        return None
    best = max(by_phrase, key=by_phrase.__getitem__)
    answers = actions[best] == grammar.CONFIRM
    a_word = ANSWER_BELOW_FREE if answers else PHRASE_BELOW_FREE
    below = min(PHRASE_BELOW_FREE_MOST, a_word * lengths[best])
    if by_phrase[best] < free - below:
        return None
    over = WRITTEN_OVER_NEXT if best == written else PHRASE_OVER_NEXT
    for name, score in by_phrase.items():
        if answers:
            wanted = ANSWER_OVER_NEAR if actions[name] == grammar.NEAR else ANSWER_OVER_NEXT
        else:
            wanted = min(over, NEAR_OVER_NEXT) if actions[name] in _ONLY_NEAR else over
            wanted = {grammar.OPPOSED: OVER_OPPOSED, grammar.ALIKE: OVER_ALIKE}.get(actions[name], wanted)
        if actions[name] != actions[best] and by_phrase[best] < score + wanted:
            return None
    return best


def _may_stop(by_phrase: Mapping[str, float], free: float, actions: Mapping[str, str]) -> bool:
    """Whether a stop is the likeliest of what means anything, and not far below the free text."""
    near = (grammar.STOP, grammar.NEAR_STOP)
    rival = max((score for name, score in by_phrase.items() if actions[name] not in near), default=-np.inf)
    return any(
        score > rival and score >= free - (STOP_BELOW_FREE if " " in name else A_WORD_BELOW_FREE)
        for name, score in by_phrase.items()
        if actions[name] == grammar.STOP
    )


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


def _as_written(phrase: str, varied: bool, begun: str = "") -> list[str]:
    """As the engine writes a sentence; ``varied``: also with what people put around it and
    behind a yes, and with what was ``begun``."""
    written = " ".join("I" if word == "i" else word for word in phrase.split())
    for answer in ("yes", "no"):
        if written.startswith(f"{answer} "):
            written = f"{answer},{written[len(answer) :]}"
    if not varied:
        return [written[0].upper() + written[1:]]
    before = dict.fromkeys(("", "um, ", "er, ", "please, ", begun))
    around = [f"{first}{written}{last}" for first in before for last in ("", ", please", " now")]
    if written.startswith("yes, "):
        around += [f"yes, {filler} {written[5:]}" for filler in ("please", "now")]
    return [form[0].upper() + form[1:] for form in around]
