"""Sentences of lower rooms in the language in use.

Lower rooms say what they have to say in English. Here a sentence is recognised by its text
or, where it carries names and numbers, by its pattern, and said again with the same ones.
What is not recognised stays as it is, so that nothing is ever left unsaid.
"""

from __future__ import annotations

import re
from functools import lru_cache

from evidence_app.errors import EvidenceError, StepListError
from evidence_app.language import language, say
from evidence_app.sentence import Sentence
from evidence_app.tablet.presenting.below_texts import ALL

# A place named …_id takes an identifier, so that a short text does not fit a whole sentence.
_ONE_WORD = r"[\w.-]+"


def in_this_language(error: EvidenceError) -> str:
    """What is wrong and what to do, for a screen: the place is named only when it is a file."""
    if isinstance(error, StepListError):
        return error.sentence()
    parts = [_sentence(told(error.what)), _sentence(told(error.remedy))]
    if "/" in error.where or "\\" in error.where:
        parts.append(f"({error.where})")
    return " ".join(part for part in parts if part)


def told(text: str | Sentence) -> str:
    """``text``, one sentence or several, in the language in use."""
    if isinstance(text, Sentence):
        return say(text)
    return text if language() == "en" or not text else _told(text, language())


@lru_cache(512)
def _told(text: str, _language: str) -> str:
    found = _one(text)
    if found is not None:
        return found
    sentences = re.split(r"(?<=[.!?]) (?=[A-ZÄÖÜ])", text)
    if len(sentences) > 1:
        return " ".join(told(sentence) for sentence in sentences)
    for separator in ("; ", ", "):
        if separator in text:
            parts = [_one(part) for part in text.split(separator)]
            if all(parts):
                return separator.join(parts)
    head, colon, tail = text.partition(": ")
    said = told(tail) if colon else tail
    return f"{head}: {said}" if said != tail else text


def _one(text: str) -> str | None:
    """``text`` if it is a known text, as written there or as a sentence of its own."""
    for bare in (text, text.removesuffix(".")):
        for form in (bare, _lower(bare)):
            said = _known(form)
            if said is not None:
                said = _upper(said) if text[:1].isupper() else said
                return said + text[len(bare) :]
    return None


def _known(text: str) -> str | None:
    if text in _texts():
        return say(text)
    for pattern, template in _patterns():
        found = pattern.fullmatch(text)
        if found:
            return say(template, **{name: told(value) for name, value in found.groupdict().items()})
    return None


@lru_cache
def _texts() -> frozenset[str]:
    return frozenset(ALL)


@lru_cache
def _patterns() -> tuple[tuple[re.Pattern, str], ...]:
    """The texts with places, those with the most fixed letters first."""
    found = [(_pattern(text), text) for text in ALL if "{" in text]
    return tuple(sorted(found, key=lambda pair: -len(re.sub(r"{\w+}", "", pair[1]))))


def _pattern(text: str) -> re.Pattern:
    parts, seen = [], set()
    for part in re.split(r"({\w+})", text):
        name = part[1:-1]
        if not re.fullmatch(r"{\w+}", part):
            parts.append(re.escape(part))
        elif name in seen:
            parts.append(f"(?P={name})")
        else:
            seen.add(name)
            parts.append(f"(?P<{name}>{_ONE_WORD if name.endswith('_id') else '.+?'})")
    return re.compile("".join(parts), re.S)


def _sentence(text: str) -> str:
    bare = text.strip().rstrip(".")
    return f"{_upper(bare)}." if bare else ""


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
