"""What an event says of a photo, computed again from its own fields and the step list.

Nothing of the gate or of the measuring is called: the limits of journal format 1 stand here
once more, so that a journal is judged by what its format meant when it was written. Only
numbers that were rounded for the journal leave room, by half of their last digit.
"""

from collections.abc import Iterator, Sequence
from typing import Any

from evidence_app.job import vocabulary as v
from evidence_app.record.event import is_number
from evidence_app.sentence import Sentence, sentence
from evidence_app.steplist.model import Measurement

_MOST, _LEAST = "most", "least"

# Name: which side of the limit holds, unit, limit. Lengths in pixels are for a photo whose
# long side has at most 4000 of them, and in proportion above.
_GATE: dict[str, tuple[str, str, float]] = {
    "size": (_LEAST, "megapixels", 1.0),
    "card": (_LEAST, "markers", 4.0),
    "focus": (_MOST, "px edge rise", 3.05),
    "motion": (_MOST, "px smear", 4.0),
    "shadows": (_MOST, "share of picture", 0.3),
    "highlights": (_MOST, "share of picture", 0.08),
    "glare": (_MOST, "share of picture", 0.02),
}
_IN_PROPORTION = ("focus", "motion")
_WIDE = 4000
_FOCUS_ON_CARD = "mm edge rise on the scale card"

_ROUNDED = 0.000051
"""Gate values have four decimals."""

_ROUNDED_MM = 0.0002
"""Values and uncertainties of a measurement have four decimals, and three of them meet."""

_GUARD = 1.65
"""Guard band in standard uncertainties (ISO 14253-1, JCGM 106)."""


def gate_contradictions(
    checks: Sequence[v.JudgedCheck], width: int, height: int, card_wanted: bool
) -> Iterator[Sentence]:
    """What the gate's checks of a photo of that size do not say as they must."""
    names = [name for name in _GATE if name != "card" or card_wanted]
    if checks and [check.name for check in checks] != names:
        yield sentence("does not have exactly the checks {names}", names=", ".join(names))
        return
    for check in checks:
        yield from _gate_check(check, width, height, card_wanted)


def _gate_check(check: v.JudgedCheck, width: int, height: int, card_wanted: bool) -> Iterator[Sentence]:
    side, unit, limit = _GATE[check.name]
    if not (is_number(check.value) and is_number(check.limit)):
        yield sentence("has a check {name} without a number", name=check.name)
        return
    if check.name in _IN_PROPORTION:
        limit *= max(width, height, _WIDE) / _WIDE
    on_card = check.name == "focus" and card_wanted and check.unit == _FOCUS_ON_CARD
    # On the card the limit is in mm, by a scale that only the photo itself gives.
    known = check.limit > 0 if on_card else abs(check.limit - limit) <= _ROUNDED
    if not known or not (on_card or str(check.unit).startswith(unit)):
        yield sentence(
            "has a check {name} with another limit than {limit:g} {unit}",
            name=check.name,
            limit=limit,
            unit=unit,
        )
        return
    if check.name == "size" and abs(check.value - width * height / 1e6) > _ROUNDED:
        yield sentence("gives the photo another size than it was taken with")
    over = check.value - check.limit if side == _MOST else check.limit - check.value
    # A card can be refused with all of its markers seen, when one of them is seen twice.
    sure = over > _ROUNDED if check.holds else over < -_ROUNDED and check.name != "card"
    if sure:
        yield sentence(
            "says of {name} {value:g} against the limit {limit:g} what the numbers do not give",
            name=check.name,
            value=check.value,
            limit=check.limit,
        )


def measured_contradictions(result: dict[str, Any], asked: Measurement) -> Iterator[Sentence]:
    """What a measurement's result does not say as its own numbers and the step list give it."""
    told = result.get("conformity")
    if told == "refused":
        if result.get("value") is not None:
            yield sentence("is refused and gives a value")
        return
    for name, limit in (("at_least", asked.at_least), ("at_most", asked.at_most)):
        if result.get(name) != limit:
            yield sentence("has other limits than the step list")
            return
    value, expanded = result.get("value"), result.get("U")
    if not is_number(value) or value < 0:
        yield sentence("has no value")
        return
    if asked.reference is not None:  # marks found against a clean photo
        if told != "inconclusive":
            yield sentence("judges an area that has no stated uncertainty")
        return
    if not is_number(expanded) or expanded <= 0:
        yield sentence("has no uncertainty")
        return
    lowest, highest = _extremes(result, value, expanded)
    if not lowest[0] - _ROUNDED_MM <= value <= highest[0] + _ROUNDED_MM:
        yield sentence("has a value that is not between its smallest and its largest")
    if told not in _conformities(lowest, highest, asked):
        yield sentence(
            "says {told} of {value:g} mm, U = {expanded:g} mm, which its limits do not give",
            told=told,
            value=value,
            expanded=expanded,
        )


def _extremes(
    result: dict[str, Any], value: float, expanded: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """(width, U) that is judged by the lower and by the upper limit."""
    found = []
    for name in ("smallest", "largest"):
        place = result.get(name)
        place = place if isinstance(place, dict) else {}
        width, u = place.get("width_mm"), place.get("U_mm")
        if is_number(width) and is_number(u) and u > 0:
            found.append((width, u))
        else:
            found.append((value, expanded))
    return found[0], found[1]


def _conformities(
    lowest: tuple[float, float], highest: tuple[float, float], asked: Measurement
) -> set[str]:
    """What can be said within the rounding; the worse of the two limits counts."""
    said = set()
    for shift in (-_ROUNDED_MM, 0.0, _ROUNDED_MM):
        verdicts = []
        if asked.at_most is not None:
            width, u = highest
            verdicts.append(_against(asked.at_most - width + shift, _GUARD * u / 2))
        if asked.at_least is not None:
            width, u = lowest
            verdicts.append(_against(width - asked.at_least + shift, _GUARD * u / 2))
        order = ("outside", "inconclusive", "within")
        said.add(next((each for each in order if each in verdicts), "inconclusive"))
    return said


def _against(room: float, guard: float) -> str:
    """``room`` is how far the value is inside its limit."""
    if room < -guard:
        return "outside"
    return "within" if room >= guard else "inconclusive"
