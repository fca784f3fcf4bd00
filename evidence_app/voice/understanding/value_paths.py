"""Which words may follow which in a spoken value, as the speech model would write them.

A graph of words, followed token by token while the model's likeliest values are looked
for. It may let more through than is a value: what comes out is read by ``numbers``.
"""

from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache

from evidence_app.voice.understanding.words import Lexicon

Graph = Mapping[str, tuple[tuple[str, str], ...]]
"""state -> (text of a word with the blank before it, state that it leads to). Where the
text is empty the value may be over."""

START, END = "start", "end"


class Paths:
    """A graph spelled in the model's tokens. A place is what ``begin`` and ``after`` give."""

    def __init__(self, graph: Graph, spell: Callable[[str], list[int]]) -> None:
        self._ways = {
            state: tuple((tuple(spell(text)), target) for text, target in ways if text)
            for state, ways in graph.items()
        }
        self._over = {state for state, ways in graph.items() if ("", END) in ways} | {END}
        self.begin: frozenset = frozenset({(START, ())})
        self.after = lru_cache(maxsize=4096)(self._after)

    def _after(self, place: frozenset) -> tuple[dict[int, frozenset], bool]:
        """What each token leads to, and whether the value may be over here."""
        ahead: dict[int, set] = {}
        over = False
        for state, rest in place:
            over = over or (state in self._over and not rest)
            ways = ((rest, state),) if rest else self._ways.get(state, ())
            for (first, *left), target in ways:
                ahead.setdefault(first, set()).add((target, tuple(left)))
        return {token: frozenset(places) for token, places in ahead.items()}, over


def number_graph(words: Lexicon, unit: str | None, decimals: int) -> Graph:
    """Numbers as ``numbers.spoken_number`` reads them, at most ``decimals`` behind the
    point, with the unit or without, a sound of hesitation before and "please" behind."""
    zeros = [word for word, digit in words.digits.items() if digit == "0"]
    ones = [word for word, digit in words.digits.items() if digit != "0"]
    parts = list(words.parts) if decimals else []
    begin = {
        "zero": zeros,
        "one": ones,
        "whole": list(words.small),
        "tens": list(words.tens),
        "point": list(words.point) if decimals else [],
        "a": ["a"],
        "over": parts,
        "minus": list(words.minus),
        "not": list(words.zero_before_point) if decimals else [],
    }
    ways: dict[str, list[tuple[str, str]]] = {}

    def way(state: str, texts: Iterable[str], target: str) -> None:
        ways.setdefault(state, []).extend((text, target) for text in texts)

    for target, texts in begin.items():
        way(START, (f" {text.capitalize()}" for text in texts), target)
        way("um", (f" {text}" for text in texts), target)
        if target != "minus":
            way("minus", (f" {text}" for text in texts), target)
    hesitations = [f" {word.capitalize()}" for word in words.hesitations]
    way(START, [f"{said}{mark}" for said in hesitations for mark in (",", "")], "um")
    way(START, [f" {n}" for n in range(100)], "numeral")
    digits = [f"{comma} {word}" for word in (*zeros, *ones) for comma in ("", ",")]
    for state in ("zero", "one", "digits"):
        way(state, digits, "digits")
    way("tens", [f"{join}{word}" for join in (" ", "-") for word in ones], "whole")
    for state in ("one", "a"):
        way(state, [" hundred"], "hundred")
    for state in ("one", "tens", "whole"):
        way(state, [" thousand"], "thousand")
    for state in ("hundred", "thousand"):
        way(state, [f" {words.joiner}"], "and")
    for state in ("hundred", "thousand", "and"):
        way(state, (f" {text}" for text in (*ones, *words.small)), "whole")
        way(state, (f" {text}" for text in words.tens), "tens")
    way("thousand", (f" {text}" for text in ones), "one")
    ends = ["zero", "one", "whole", "tens", "digits", "hundred", "thousand", "numeral", "over"]
    if decimals:
        for state in ("not", *ends[:-2]):
            way(state, [f"{comma} {word}" for word in words.point for comma in ("", ",")], "point")
        for length in range(1, decimals + 1):
            way("numeral", [f".{n:0{length}}" for n in range(10**length)], "written")
        for place in range(decimals):
            found = [*digits, *(f" {word}" for word in words.behind_point)]
            way(f"behind{place}" if place else "point", found, f"behind{place + 1}")
            ends.append(f"behind{place + 1}")
        for state in ("a", "one", "whole", "tens"):
            way(state, (f" {part}" for part in parts), "over")
        way("one", [f" {words.joiner} a"], "a")
    ends.append("written")
    for state in ("numeral", "written"):
        way(state, ["."], END)
    spoken = words.units.get(unit, (unit,)) if unit else ()
    for state in ends:
        joins = ("", " a", " of a") if state == "over" else ("", ",")
        way(state, [f"{join} {form}" for form in spoken for join in joins], "said")
        way(state, [" please", ", please", ""], END)
    way("said", [" please", ", please", ""], END)
    return {state: tuple(found) for state, found in ways.items()}


def serial_graph(words: Lexicon) -> Graph:
    """Letters of the spelling alphabet and single digits, any number of them."""
    signs = [*words.spelling, *words.digits, "x-ray", *map(str, range(10))]
    more = tuple((f"{comma} {sign}", "sign") for sign in signs for comma in ("", ","))
    first = tuple((f" {sign.capitalize()}", "sign") for sign in signs)
    return {START: first, "sign": (*more, ("", END))}
