"""Spoken numbers and spelled serial numbers, read strictly: anything else is no value.

A value is a decimal string with exactly the digits that were said, so that "zero point
two zero" stays 0.20. A number is said as one number ("one hundred and twenty"), digit
by digit ("one two zero"), or both around the point, or as a part ("a quarter", "twelve
hundredths"); a pair such as "one twenty" can be read in two ways and is refused. The
engine may write digits for words; both are taken.
"""

import re
from decimal import Decimal
from typing import Literal

from msgspec import Struct

from evidence_app.sentence import Sentence, sentence
from evidence_app.voice.understanding.words import ENGLISH, Lexicon

LONGEST = 40  # characters of a serial number
_GROUPED = re.compile(r"[0-9]{1,3}(,[0-9]{3})+")
_GROUP = re.compile(r"[0-9]+")
_NUMERAL = re.compile(r"[0-9]+(\.[0-9]+)?")
# Digits with a unit right behind, as engines write "0.2mm" and "20%".
_JOINED_UNIT = re.compile(r"(?<=[0-9])(?=[^\W\d_]|[%°])")


class NotAValue(Struct, frozen=True):
    """What was said is no value; ``sentence`` says why and what to say instead."""

    code: Literal["no-number", "other-unit", "too-fine", "no-sign", "nothing", "too-long"]
    sentence: Sentence


def spoken_number(
    text: str, unit: str | None = None, decimals: int = 0, words: Lexicon = ENGLISH
) -> str | NotAValue:
    """``text`` as a decimal string such as "-0.20"; the unit may be said or left out.

    A unit other than ``unit`` and more decimals than ``decimals`` are no value.
    """
    said = _bare(_tokens(text), words)
    said, problem = _without_unit(said, unit, words)
    if problem:
        return problem
    if said == ["oh"]:  # a sigh
        said = []
    negative = bool(said) and said[0] in words.minus
    value = _magnitude(said[1:] if negative else said, words)
    if value is None:
        return NotAValue(
            "no-number", sentence("“{said}” is not a number. Say it digit by digit.", said=text.strip())
        )
    if len(value.partition(".")[2]) > decimals:
        return NotAValue(
            "too-fine",
            sentence(
                "{value} has more decimals than are asked for ({decimals}).", value=value, decimals=decimals
            ),
        )
    return f"-{value}" if negative else value


def spoken_serial(text: str, words: Lexicon = ENGLISH) -> str | NotAValue:
    """Letters in the spelling alphabet and single digits, as capital letters and digits.

    Digits that the engine wrote together are taken as they stand.
    """
    said = _tokens(text.replace(",", " ").replace(".", " "))
    signs: list[str] = []
    place = 0
    while place < len(said):
        pair = " ".join(said[place : place + 2])
        if pair in words.spelling:
            signs.append(words.spelling[pair])
            place += 2
            continue
        word = said[place]
        sign = (
            words.spelling.get(word)
            or words.digits.get(word)
            or (word if word.isascii() and word.isdigit() else None)
        )
        if sign is None:
            return NotAValue(
                "no-sign",
                sentence(
                    "“{word}” is neither a letter of the spelling alphabet nor a digit. "
                    "Say each letter as Alfa, Bravo, Charlie, and each digit by itself.",
                    word=word,
                ),
            )
        signs.append(sign)
        place += 1
    serial = "".join(signs)
    if not serial:
        return NotAValue("nothing", sentence("Nothing was spelled."))
    if len(serial) > LONGEST:
        return NotAValue(
            "too-long", sentence("That is longer than {most} letters and digits.", most=LONGEST)
        )
    return serial


def read_back(value: str, words: Lexicon = ENGLISH) -> str:
    """``value`` sign by sign, so that fifteen and fifty cannot be mistaken for each other."""
    names = {digit: word for word, digit in reversed(words.digits.items())}
    names |= {sign: word for word, sign in reversed(words.spelling.items()) if sign not in names}
    names |= {".": "point"}
    if value.startswith("-") and _NUMERAL.fullmatch(value[1:]):
        return "minus " + read_back(value[1:], words)
    return " ".join(names.get(sign, sign) for sign in value)


def confusable_with(value: str) -> str | None:
    """What sounds nearly the same, as fourteen and forty do; None when nothing does."""
    whole, dot, fraction = value.partition(".")
    last = int(whole[-2:]) if whole[-2:].isdigit() else 0
    if 13 <= last <= 19:
        other = (last - 10) * 10
    elif last in range(30, 100, 10):
        other = 10 + last // 10
    else:
        return None
    return f"{whole[:-2]}{other}{dot}{fraction}"


def _tokens(text: str) -> list[str]:
    """Lower-case words; a full stop or comma stays only inside a numeral."""
    lower = _JOINED_UNIT.sub(" ", text.lower().replace("−", "-"))
    lower = re.sub(r"(?<![\w])-(?=[0-9])", "minus ", lower)
    lower = re.sub(r"(?<![0-9])\.(?=[0-9])", "point ", lower)
    lower = lower.replace("-", " ").replace("–", " ")
    lower = re.sub(r"[.,](?![0-9])|[;:!?\"“”]", " ", lower)
    return lower.split()


def _without_unit(said: list[str], unit: str | None, words: Lexicon) -> tuple[list[str], NotAValue | None]:
    """``said`` without a unit at its end; a unit that is not asked for is a problem."""
    wanted = words.units.get(unit, (unit.lower(),)) if unit else ()
    known = {spoken: name for name, forms in words.units.items() for spoken in forms}
    for length in (2, 1):
        tail = " ".join(said[-length:]) if len(said) > length else ""
        if tail in wanted:
            return _without_of(said[:-length], words), None
        if tail in known:
            told = (
                sentence("That was said in {tail}; it is asked in {unit}.", tail=tail, unit=unit)
                if unit
                else sentence("That was said in {tail}; it is asked without a unit.", tail=tail)
            )
            return said, NotAValue("other-unit", told)
    return said, None


def _bare(said: list[str], words: Lexicon) -> list[str]:
    """Without hesitation before and "please" behind."""
    told = [tuple(words.split()) for words in words.hesitations]
    while found := next((t for t in told if tuple(said[: len(t)]) == t and said[len(t) :]), None):
        said = said[len(found) :]
    while len(said) > 1 and said[-1] in words.fillers:
        said = said[:-1]
    return said


def _without_of(said: list[str], words: Lexicon) -> list[str]:
    """ "half a millimetre", "three quarters of a millimetre": without what joins the unit."""
    for joint in (["of", "a"], ["a"]):
        rest = said[: -len(joint)]
        if rest and said[-len(joint) :] == joint and rest[-1] in words.parts:
            return rest
    return said


def _part(said: list[str], words: Lexicon) -> str | None:
    """A part as a decimal: "a quarter", "twelve hundredths", "one and a half"."""
    if not said or said[-1] not in words.parts:
        return None
    above, below = words.parts[said[-1]]
    before = said[:-1]
    whole = 0
    if words.joiner in before:
        place = before.index(words.joiner)
        found = _cardinal(before[:place], words)
        if found is None:
            return None
        whole, before = found, before[place + 1 :]
    numerals = len(before) == 1 and before[0].isascii() and before[0].isdigit()
    count = 1 if before in ([], ["a"]) else int(before[0]) if numerals else _cardinal(before, words)
    if count is None:
        return None
    return f"{(Decimal(whole) + Decimal(count * above) / below).normalize():f}"


def _magnitude(said: list[str], words: Lexicon) -> str | None:
    part = _part(said, words)
    if part is not None:
        return part
    points = [place for place, word in enumerate(said) if word in words.point]
    if len(points) > 1 or not said:
        return None
    if not points:
        if len(said) == 1 and _NUMERAL.fullmatch(said[0]):
            return _plain(said[0])
        return _whole(said, words)
    before = said[: points[0]]
    # The engine writes "not point one" for "nought point one".
    nothing = not before or (len(before) == 1 and before[0] in words.zero_before_point)
    whole = "0" if nothing else _whole(before, words)
    behind = said[points[0] + 1 :]
    fraction = _digits([words.behind_point.get(word, word) for word in behind], words)
    return f"{whole}.{fraction}" if whole and fraction else None


def _whole(said: list[str], words: Lexicon) -> str | None:
    cardinal = _cardinal(said, words)
    if cardinal is not None:
        return str(cardinal)
    if len(said) == 1 and _GROUPED.fullmatch(said[0]):
        return _plain(said[0].replace(",", ""))
    digits = _digits(said, words)
    return _plain(digits) if digits else None


def _digits(said: list[str], words: Lexicon) -> str | None:
    """Digit by digit. A group that the engine wrote in digits stands only by itself: "480 7"
    is not told from four hundred and eighty-seven."""
    alone = len(said) == 1
    digits = [
        words.digits.get(word) or (word if _GROUP.fullmatch(word) and (alone or len(word) == 1) else None)
        for word in said
    ]
    return "".join(digits) if digits and all(digits) else None  # type: ignore[arg-type]


def _plain(numeral: str) -> str:
    """Without zeros in front that no gauge shows: "007" is 7, "0.5" stays."""
    whole, dot, fraction = numeral.partition(".")
    return (whole.lstrip("0") or "0") + dot + fraction


def _cardinal(said: list[str], words: Lexicon) -> int | None:
    """Below a million: [thousands] [hundreds] ["and"] [tens] [ones]; None for anything else."""
    if "thousand" in said or words.scales.get(said[0] if said else "") == 1000:
        place = next(n for n, word in enumerate(said) if words.scales.get(word) == 1000)
        thousands = _below_thousand(said[:place], words)
        rest = said[place + 1 :]
        if not thousands:
            return None
        if not rest:
            return thousands * 1000
        joined = rest[0] == words.joiner
        remainder = _below_thousand(rest[1:] if joined else rest, words)
        # "two thousand and five", but not "two thousand and five hundred".
        if not remainder or (joined and remainder >= 100):
            return None
        return thousands * 1000 + remainder
    return _below_thousand(said, words)


def _below_thousand(said: list[str], words: Lexicon) -> int | None:
    hundreds = 0
    if len(said) > 1 and words.scales.get(said[1]) == 100:
        hundreds = 1 if said[0] == "a" else _one_digit(said[0], words)
        if not hundreds:
            return None
        said = said[2:]
        if not said:
            return hundreds * 100
        if said[0] == words.joiner:
            said = said[1:]
    below = _below_hundred(said, words)
    if below is None or (hundreds and below == 0):
        return None
    return hundreds * 100 + below


def _below_hundred(said: list[str], words: Lexicon) -> int | None:
    if len(said) == 1:
        if said[0] in words.small:
            return words.small[said[0]]
        if said[0] in words.tens:
            return words.tens[said[0]]
        if said[0] in words.digits:
            return int(words.digits[said[0]])
        return None
    if len(said) == 2 and said[0] in words.tens:
        ones = _one_digit(said[1], words)
        return words.tens[said[0]] + ones if ones else None
    return None


def _one_digit(word: str, words: Lexicon) -> int:
    return int(words.digits.get(word, "0"))
