"""A reading: what is asked, its unit and limits, and what a value typed so far means."""

from difflib import SequenceMatcher
from itertools import zip_longest

from msgspec import Struct

from evidence_app.errors import EvidenceError
from evidence_app.job.rules.entry import SERIAL, line, number, plain, within
from evidence_app.language import say
from evidence_app.steplist.model import Reading


class Typed(Struct, frozen=True):
    """What was typed, judged: ``state`` is "empty", "wrong", "within", "outside" or "other"
    (the serial number of another unit)."""

    state: str
    words: str


def typed(reading: Reading, value: str, serial: str) -> Typed:
    """``serial`` is the job's."""
    if not value:
        return Typed("empty", say("Nothing entered yet."))
    try:
        if reading.text:
            line(value, reading.name)
            if reading.id == SERIAL and plain(value) != plain(serial):
                return Typed("other", say("Not the serial number of this job: {serial}", serial=serial))
            return Typed("within", say("Compare it once more, then record it."))
        entered = number(value, reading)
    except EvidenceError:
        return Typed("wrong", say("This is not {form} yet.", form=_form(reading)))
    fits = within(entered, reading)
    if fits is None:
        return Typed("within", say("No limits are set for it."))
    if fits:
        return Typed("within", say("Within its limits."))
    return Typed("outside", say("Outside its limits. It can be recorded as outside after you confirm it."))


def _form(reading: Reading) -> str:
    if reading.text:
        return say("letters and digits as they stand there")
    return say("a number like {example}", example=f"{0:.{reading.decimals}f}" if reading.decimals else "12")


def side_by_side(one: str, other: str) -> list[tuple[str, str, bool]]:
    """The signs of two numbers beside each other and whether they differ; where one has no
    sign there is an empty text."""
    one, other = "".join(one.split()), "".join(other.split())
    if len(one) == len(other):
        return [(x, y, x.casefold() != y.casefold()) for x, y in zip(one, other, strict=True)]
    pairs = []
    signs = SequenceMatcher(None, one.casefold(), other.casefold(), autojunk=False)
    for what, a, b, c, d in signs.get_opcodes():
        same = what == "equal"
        pairs += [(x, y, not same) for x, y in zip_longest(one[a:b], other[c:d], fillvalue="")]
    return pairs
