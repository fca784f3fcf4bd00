"""The residue result as plain values for journal, report and command line."""

from typing import Any

from evidence_app.language import mark
from evidence_app.photo.gap.measure import Card, unconfirmed_card
from evidence_app.photo.refusal import CannotMeasure
from evidence_app.photo.residue.drawing import draw_residue
from evidence_app.photo.residue.find import Residue, find_residue
from evidence_app.photo.results import BARS, Beside, known_mm, noted, require_unit, worded
from evidence_app.photo.uncertainty import Conformity
from evidence_app.sentence import Sentence, sentence
from evidence_app.steplist.model import Measurement

METHOD = mark(
    "compared with the clean reference photo, surface by surface, the light's change removed; "
    "marks stand out of the noise and end in a step; second version"
)


def measured(data: bytes, asked: Measurement, beside: Beside) -> tuple[dict[str, Any], bytes]:
    """Result and PNG drawing.

    Raises PhotoError or CannotMeasure when the photos cannot be compared.
    """
    reference, second = beside.reference, beside.second
    if reference is None:
        raise CannotMeasure("residue", "reference")
    if second is None:
        # In trials one photo alone marked shadows and colour noise on clean surfaces.
        raise CannotMeasure("residue", "second")
    require_unit(asked)
    found = find_residue(data, reference, second)
    result = {
        "kind": "residue",
        "unit": "mm2",
        "value": round(found.area_mm2, 3),
        "U": None,
        # Areas of marks carry no uncertainty budget, so no limit is ever said to be kept.
        "conformity": Conformity.INCONCLUSIVE.value,
        "method": METHOD,
        **worded(_sentence(found)),
        "at_least": asked.at_least,
        "at_most": asked.at_most,
        "marks": [
            {
                "number": number,
                "x_mm": round(mark.x, 2),
                "y_mm": round(mark.y, 2),
                "area_mm2": round(mark.area_mm2, 3),
                "strength_percent": round(100 * mark.brightness, 1),
                "times_noise_limit": round(mark.noise, 2),
            }
            for number, mark in enumerate(found.marks, 1)
        ],
        "judged_mm2": round(found.judged_mm2, 1),
        "least_change_percent": round(100 * found.least_brightness, 1),
        "not_persisting": found.dropped,
        **dict(zip(BARS, map(known_mm, found.bars), strict=True)),
        **noted(_notes(found, beside.card or unconfirmed_card())),
    }
    return result, draw_residue(found)


def _sentence(found: Residue) -> Sentence:
    if not found.marks:
        return sentence(
            "No difference found in the {judged:.0f} mm² that could be compared. Inspect by eye as well.",
            judged=found.judged_mm2,
        )
    if len(found.marks) == 1:
        return sentence(
            "1 mark differs from the reference, {area:.2f} mm² in all. Inspect it.", area=found.area_mm2
        )
    return sentence(
        "{count} marks differ from the reference, {area:.2f} mm² in all, the largest {largest:.2f} "
        "mm². Inspect them.",
        count=len(found.marks),
        area=found.area_mm2,
        largest=found.marks[0].area_mm2,
    )


def _notes(found: Residue, card: Card) -> list[Sentence]:
    said = [
        sentence(
            "{area:.0f} mm2 were compared; a mark needs a change of about {percent:.0f} percent. "
            "Walls, strong edges and the card were not judged.",
            area=float(found.judged_mm2),
            percent=100 * float(found.least_brightness),
        )
    ]
    if found.dropped:
        said.append(
            sentence(
                "Marks of the first photo that do not show in the second and were left out: {count}.",
                count=found.dropped,
            )
        )
    if off := max(map(card.misprint, found.bars), key=abs):
        said.append(
            sentence(
                "In one of the photos the card's check bar is {percent:+.2f} percent off beside its markers, "
                "more than its scale allows; areas may be off by twice as much. Lay the card flat, or print "
                "a new one.",
                percent=100 * off,
            )
        )
    return said
