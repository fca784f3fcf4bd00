"""A seam's width on a photo's bytes, as plain values for the journal, with its drawing."""

from typing import Any

from evidence_app.language import mark
from evidence_app.photo import results
from evidence_app.photo.gap.drawing import draw_gap
from evidence_app.photo.gap.measure import MOST_STEP_MM, Extreme, Gap, measure_gap
from evidence_app.photo.uncertainty import COVERAGE_FACTOR, GUARD_FACTOR, Conformity, conformity, joined
from evidence_app.sentence import Sentence, sentence, sentences_beside
from evidence_app.steplist.model import Measurement

GAP_METHOD = mark(
    "width fitted to profiles across the seam every 0.5 mm, in linear light, blur taken "
    "from the edges of the scale card; U with k = 2 after JCGM 100, guard band of "
    "1.65 u after ISO 14253-1; third version"
)


def measured(data: bytes, asked: Measurement, beside: results.Beside) -> tuple[dict[str, Any], bytes]:
    """Result and PNG. Raises EvidenceError when nothing can be said."""
    results.require_unit(asked)
    luma = results.unmirrored_luma(data)
    gap = measure_gap(luma, beside.card)
    verdict = _verdict(gap, asked)
    result: dict[str, Any] = {
        "kind": "gap",
        "unit": "mm",
        "value": results.mm(gap.median_mm),
        "U": results.mm(gap.budget.expanded()),
        "k": COVERAGE_FACTOR,
        "conformity": verdict.value,
        "method": GAP_METHOD,
        **results.worded(_sentence(gap, asked, verdict)),
        "at_least": asked.at_least,
        "at_most": asked.at_most,
        "largest": _extreme(gap.largest),
        "smallest": _extreme(gap.smallest),
        "stations": [
            {"at_mm": round(float(at), 2), "width_mm": results.mm(width)}
            for (at, width), good in zip(gap.stations, gap.good, strict=True)
            if good
        ],
        "stations_agreeing": round(float(gap.good.mean()), 3),
        "budget": results.lines(gap.budget),
        "lean_across_deg": round(gap.lean_deg, 2),
        "tilt_deg": round(gap.tilt_deg, 2),
        "mm_per_pixel": round(gap.mm_per_pixel, 5),
        "card": results.card_fields(gap.card),
        "check_bar_mm": results.known_mm(gap.bar),
        **results.noted(_notes(gap)),
    }
    return result, draw_gap(luma, gap, asked.at_least, asked.at_most)


def _extreme(found: Extreme) -> dict[str, float]:
    width, u = results.mm(found.width_mm), results.mm(2 * found.u_mm)
    return {"width_mm": width, "at_mm": round(found.at_mm, 2), "U_mm": u}


def _verdict(gap: Gap, asked: Measurement) -> Conformity:
    """The upper limit is judged by the widest 2 mm, the lower one by the narrowest."""
    verdicts = []
    if asked.at_most is not None:
        verdicts.append(conformity(gap.largest.width_mm, gap.largest.u_mm, None, asked.at_most))
    if asked.at_least is not None:
        verdicts.append(conformity(gap.smallest.width_mm, gap.smallest.u_mm, asked.at_least))
    return joined(verdicts)


def _sentence(gap: Gap, asked: Measurement, verdict: Conformity) -> Sentence:
    at, largest = gap.largest.at_mm, gap.largest.width_mm
    place = "middle" if abs(at) < 1 else "right" if at > 0 else "left"
    values = {"median": gap.median_mm, "U": gap.budget.expanded(), "largest": largest, "at": abs(at)}
    size = _SIZE[place].filled(values)
    return results.judged(size, asked, verdict, sentence("Use the feeler gauge."))


_SIZE = sentences_beside(__file__)["size"]


def _notes(gap: Gap) -> list[Sentence]:
    said = results.card_said(gap.card, gap.bar)
    if gap.good.mean() < 1:
        said.append(
            sentence(
                "{percent} percent of the places along the seam were left out because they do not "
                "look like the rest.",
                percent=round(100 * (1 - float(gap.good.mean()))),
            )
        )
    said.append(
        sentence(
            "Guard band {factor:g} u. A height step across the seam of up to {step:g} mm is allowed for.",
            factor=GUARD_FACTOR,
            step=MOST_STEP_MM,
        )
    )
    return said
