"""A sentence for people: a template and the values that fill its places.

Rules
 1. Only the template is translated, a value never: what a person wrote appears unchanged in
    every language. A value that is a sentence itself is translated as such.
 2. ``str()`` gives the English text. No code reads a sentence: whoever needs to know what
    happened looks at the fields beside it.
 3. Templates are literals in calls of ``sentence`` and ``counted``, so that gettext's
    extraction finds every one of them, or stand in a table of ``sentences_beside``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from string import Formatter
from typing import Any, cast


@dataclass(frozen=True, slots=True)
class Sentence:
    """``template`` with ``values`` in its {named} places, format specifications allowed.

    ``many`` is the template for every count but one, where the count is the value ``count``.
    A sentence without template is its ``parts``, joined by ``separator``; after a full stop
    a template begins with a capital, but what begins with a value stays as it is.
    """

    template: str
    values: tuple[tuple[str, object], ...] = ()
    many: str = ""
    parts: tuple[Sentence, ...] = ()
    separator: str = ""

    def __str__(self) -> str:
        return self.said(lambda text: text, lambda one, many, count: one if count == 1 else many)

    def __format__(self, specification: str) -> str:
        return format(str(self), specification)

    def __bool__(self) -> bool:
        return bool(self.template or self.parts)

    def value(self, name: str) -> object:
        """The value of the place ``name``; KeyError when there is none."""
        return dict(self.values)[name]

    def filled(self, values: dict[str, object]) -> Sentence:
        """The template with those of ``values`` that it has places for."""
        places = {place for _, place, _, _ in Formatter().parse(self.template)}
        return Sentence(self.template, tuple(each for each in values.items() if each[0] in places))

    def said(self, gettext: Callable[[str], str], ngettext: Callable[[str, str, int], str]) -> str:
        """The text by a catalogue's two functions."""
        if not self.template:
            said = [part.said(gettext, ngettext) for part in self.parts]
            if self.separator == ". ":
                for place, part in enumerate(self.parts[1:], start=1):
                    if not part.template.startswith("{"):
                        said[place] = said[place][:1].upper() + said[place][1:]
            return self.separator.join(said)
        values = dict(self.values)
        if self.many:
            # ``counted`` has put a number there; a fraction takes the form of several.
            count = cast(float, values["count"])
            text = ngettext(self.template, self.many, int(count) if count == int(count) else 2)
        else:
            text = gettext(self.template)
        return (
            text.format(
                **{
                    name: value.said(gettext, ngettext) if isinstance(value, Sentence) else value
                    for name, value in values.items()
                }
            )
            if values
            else text
        )


@dataclass(frozen=True, slots=True)
class Retold(Sentence):
    """What a journal says: its text stands in ``template``, and ``again`` words it anew in a
    language that has all of these templates, which English never has. A journal is not trusted:
    only templates of the catalogue are filled. The end is as that of the text, with or without
    a full stop."""

    again: tuple[Sentence, ...] = ()

    def said(self, gettext: Callable[[str], str], ngettext: Callable[[str, str, int], str]) -> str:
        recorded = gettext(self.template) if self.template else ""
        said = []
        for part in self.again:
            unfilled = not part.values and "{" in part.template
            if unfilled or gettext(part.template) == part.template:
                return recorded
            try:
                told = part.said(gettext, ngettext)
            except (KeyError, ValueError, TypeError):
                return recorded
            said.append(told if told.endswith((".", "!", "?")) else f"{told[:1].upper()}{told[1:]}.")
        told = " ".join(said) or recorded
        return told if self.template.endswith(".") else told.rstrip(".")


def recorded(told: dict[str, Any]) -> Retold:
    """What a check or measurement of a journal says: its ``sentence``, and the templates and
    values kept as its ``wording`` (:func:`to_fields`) where it has that form."""
    wording, again = told.get("wording"), []
    for part in wording if isinstance(wording, list) else ():
        match part:
            case {"template": str(template), "values": dict(values)} if template:
                again.append(Sentence(template, tuple(values.items())))
            case _:
                return Retold(told.get("sentence") or "")
    return Retold(told.get("sentence") or "", again=tuple(again))


def sentence(template: str, /, **values: object) -> Sentence:
    """A sentence of ``template``, its {named} places filled with ``values``."""
    return Sentence(template, tuple(values.items()))


def counted(one: str, many: str, count: float, /, **values: object) -> Sentence:
    """``one`` or ``many`` by ``count``, which fills the place {count}."""
    return Sentence(one, (("count", count), *values.items()), many)


def joined(separator: str, parts: Iterable[Sentence]) -> Sentence:
    """Several sentences as one, with ``separator`` (which has no words) between them."""
    return Sentence("", parts=tuple(parts), separator=separator)


NOTHING = Sentence("")


@cache
def sentences_beside(module: str) -> dict[str, Any]:
    """The tables of the .words.toml beside a module, each text of them as a sentence."""
    return _as_sentences(tomllib.loads(Path(module).with_suffix(".words.toml").read_text("utf-8")))


def _as_sentences(texts: Any) -> Any:
    return Sentence(texts) if isinstance(texts, str) else {k: _as_sentences(t) for k, t in texts.items()}


def verbatim(words: Sentence | str) -> Sentence:
    """Text that is the same in every language as a sentence; a sentence stays itself."""
    if isinstance(words, Sentence):
        return words
    return Sentence("{words}", (("words", words),)) if words else NOTHING


def to_wire(said: Sentence) -> dict[str, Any]:
    """The whole sentence as plain fields, for a file that :func:`from_wire` reads again; a value
    that is neither text, number nor sentence becomes its text."""
    values = {
        name: to_wire(value)
        if isinstance(value, Sentence)
        else value
        if isinstance(value, (str, int, float))
        else str(value)
        for name, value in said.values
    }
    parts = [to_wire(part) for part in said.parts]
    kept = {"template": said.template, "many": said.many, "separator": said.separator}
    return {name: held for name, held in {**kept, "values": values, "parts": parts}.items() if held}


def from_wire(fields: dict[str, Any]) -> Sentence:
    values = {
        name: from_wire(value) if isinstance(value, dict) else value
        for name, value in fields.get("values", {}).items()
    }
    return Sentence(
        fields.get("template", ""),
        tuple(values.items()),
        fields.get("many", ""),
        tuple(from_wire(part) for part in fields.get("parts", ())),
        fields.get("separator", ""),
    )


def to_fields(said: Sentence) -> list[dict[str, object]]:
    """Templates and values as plain fields for a journal, in order; of a sentence whose values
    are text and numbers."""
    if said.parts:
        return [fields for part in said.parts for fields in to_fields(part)]
    return [{"template": said.template, "values": dict(said.values)}] if said else []
