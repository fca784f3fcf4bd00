"""What people enter, read strictly: lines of text, longer text, decimal numbers.

Numbers stay the decimal strings that were entered, so that no binary rounding
comes between what a gauge showed and what is compared with the limits.
"""

import re
import unicodedata
from decimal import Decimal

from evidence_app.errors import Refused
from evidence_app.sentence import Sentence, counted, sentence
from evidence_app.steplist.model import Reading

LINE_LENGTH = 120
TEXT_LENGTH = 4000

SERIAL = "serial-number"
"""The reading that reads the unit's own serial number."""

# No sign but a minus, no exponent, no grouping, ASCII digits only.
_DECIMAL = re.compile(r"-?[0-9]{1,12}(?:\.([0-9]{1,12}))?")


def line(text: str, what: Sentence | str, longest: int = LINE_LENGTH) -> str:
    """One line of text without blanks at its ends. Raises Refused."""
    cleaned = _text(text, what, longest)
    if any(unicodedata.category(sign) in {"Cc", "Zl", "Zp"} for sign in cleaned):
        raise Refused(
            sentence("{what} has a line break or a control character in it", what=what),
            remedy=sentence("write it on one line"),
        )
    return cleaned


def prose(text: str, what: Sentence) -> str:
    """Text of several lines at most 4000 characters long. Raises Refused."""
    return _text(text, what, TEXT_LENGTH)


def reason(text: str, what: Sentence) -> str:
    """A reason that says something: at least three letters or digits. Raises Refused."""
    cleaned = prose(text, what)
    if sum(sign.isalnum() for sign in cleaned) < 3:
        raise Refused(
            sentence("{what} says nothing", what=what), remedy=sentence("state the reason in a few words")
        )
    return cleaned


def plain(number: str) -> str:
    """A serial or claim number as it is compared: case and blanks are no difference."""
    return "".join(number.split()).casefold()


def number(text: str, reading: Reading) -> str:
    """The decimal number as entered, blanks at its ends removed.

    A comma is refused, not turned into a full stop: "1,200" can mean either of
    two values, and a guess would stand in the record as the person's word.
    Raises Refused.
    """
    cleaned = text.strip()
    if "," in cleaned:
        raise Refused(
            sentence("“{text}” has a comma, which can be read in two ways", text=cleaned),
            where=reading.name,
            remedy=sentence("write the decimal point as a full stop and no sign between thousands"),
        )
    found = _DECIMAL.fullmatch(cleaned)
    if not found:
        raise Refused(
            sentence("“{text}” is not a plain decimal number", text=cleaned),
            where=reading.name,
            remedy=sentence("write digits like {example}, without a unit", example=_example(reading)),
        )
    if len(found[1] or "") > reading.decimals:
        raise Refused(
            sentence(
                "“{text}” has more than {decimals}", text=cleaned, decimals=_decimals(reading.decimals)
            ),
            where=reading.name,
            remedy=sentence("enter it like {example}", example=_example(reading)),
        )
    return cleaned


def within(value: str, reading: Reading) -> bool | None:
    """Whether a number keeps to the limits, compared in decimal; None without limits."""
    if reading.at_least is None and reading.at_most is None:
        return None
    # str() of a limit gives back the digits of the step list, so both sides are exact.
    entered = Decimal(value)
    high_enough = reading.at_least is None or entered >= Decimal(str(reading.at_least))
    low_enough = reading.at_most is None or entered <= Decimal(str(reading.at_most))
    return high_enough and low_enough


def _text(text: str, what: Sentence | str, longest: int) -> str:
    cleaned = text.strip()
    if not cleaned:
        raise Refused(sentence("{what} is empty", what=what), remedy=sentence("enter it"))
    if len(cleaned) > longest:
        raise Refused(
            sentence("{what} is {count:,} characters long", what=what, count=len(cleaned)),
            remedy=sentence("use at most {longest:,} characters", longest=longest),
        )
    if re.search("[\ud800-\udfff\0]", cleaned):
        raise Refused(
            sentence("{what} has a character that cannot be stored", what=what),
            remedy=sentence("type it again"),
        )
    if any(unicodedata.category(sign) == "Cc" and sign not in "\n\r\t" for sign in cleaned):
        raise Refused(
            sentence("{what} has a control character in it", what=what), remedy=sentence("remove it")
        )
    return cleaned


def _example(reading: Reading) -> str:
    return f"{0:.{reading.decimals}f}" if reading.decimals else "12"


def _decimals(count: int) -> Sentence:
    if not count:
        return sentence("no decimals")
    return counted("{count} decimal", "{count} decimals", count)
