"""What people enter, read strictly: lines of text, longer text, decimal numbers.

Numbers stay the decimal strings that were entered, so that no binary rounding
comes between what a gauge showed and what is compared with the limits.
"""

import re
import unicodedata
from decimal import Decimal
from typing import Any, NoReturn

from evidence_app.errors import Refused
from evidence_app.sentence import Sentence, counted, sentence
from evidence_app.steplist.model import Reading

LINE_LENGTH = 120
TEXT_LENGTH = 4000

SERIAL = "serial-number"
"""The reading that reads the unit's own serial number."""

# No sign but a minus, no exponent, no grouping, ASCII digits only.
_DECIMAL = re.compile(r"-?[0-9]{1,12}(?:\.([0-9]{1,12}))?")


def refuse(what: str, remedy: str, /, where: Sentence | str = "", **values: object) -> NoReturn:
    """Raise Refused in the templates ``what`` and ``remedy``, whose {named} places ``values`` fill."""
    named = tuple(values.items())
    raise Refused(Sentence(what, named), where=where, remedy=Sentence(remedy, named))


def line(text: str, what: Sentence | str, longest: int = LINE_LENGTH) -> str:
    """One line of text without blanks at its ends. Raises Refused."""
    cleaned = _text(text, what, longest)
    if any(unicodedata.category(sign) in {"Cc", "Zl", "Zp"} for sign in cleaned):
        refuse("{what} has a line break or a control character in it", "write it on one line", what=what)
    return cleaned


def prose(text: str, what: Sentence) -> str:
    """Text of several lines at most 4000 characters long. Raises Refused."""
    return _text(text, what, TEXT_LENGTH)


def reason(text: str, what: Sentence) -> str:
    """A reason that says something: at least three letters or digits. Raises Refused."""
    cleaned = prose(text, what)
    if sum(sign.isalnum() for sign in cleaned) < 3:
        refuse("{what} says nothing", "state the reason in a few words", what=what)
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
    told: dict[str, Any] = {"where": reading.name, "text": cleaned, "example": _example(reading)}
    if "," in cleaned:
        refuse(
            "“{text}” has a comma, which can be read in two ways",
            "write the decimal point as a full stop and no sign between thousands",
            **told,
        )
    found = _DECIMAL.fullmatch(cleaned)
    if not found:
        refuse(
            "“{text}” is not a plain decimal number", "write digits like {example}, without a unit", **told
        )
    if len(found[1] or "") > reading.decimals:
        most = _decimals(reading.decimals)
        refuse("“{text}” has more than {decimals}", "enter it like {example}", decimals=most, **told)
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
        refuse("{what} is empty", "enter it", what=what)
    if len(cleaned) > longest:
        told: dict[str, Any] = {"what": what, "count": len(cleaned), "longest": longest}
        refuse("{what} is {count:,} characters long", "use at most {longest:,} characters", **told)
    if re.search("[\ud800-\udfff\0]", cleaned):
        refuse("{what} has a character that cannot be stored", "type it again", what=what)
    if any(unicodedata.category(sign) == "Cc" and sign not in "\n\r\t" for sign in cleaned):
        refuse("{what} has a control character in it", "remove it", what=what)
    return cleaned


def _example(reading: Reading) -> str:
    return f"{0:.{reading.decimals}f}" if reading.decimals else "12"


def _decimals(count: int) -> Sentence:
    if not count:
        return sentence("no decimals")
    return counted("{count} decimal", "{count} decimals", count)
