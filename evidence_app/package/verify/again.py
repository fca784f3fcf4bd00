"""Every photo judged and measured again: do its bytes give what the journal says of it?

The same bytes are measured by the same method, so only the arithmetic of another machine leaves
room: two hundredths of a gate's limit, a tenth of a measurement's uncertainty (common practice,
no source).
"""

import io
from collections.abc import Iterator
from typing import Any

import numpy as np
from PIL import Image

from evidence_app.errors import EvidenceError
from evidence_app.job import vocabulary as v
from evidence_app.job.rules.route import asked_of, newest_settled
from evidence_app.job.state.fold import apply
from evidence_app.job.state.job_state import JobState
from evidence_app.package.verify.case import Case
from evidence_app.photo.gap.measure import Card
from evidence_app.photo.gate.judge import judge
from evidence_app.photo.measure import measure
from evidence_app.sentence import Sentence, sentence

GATE_APART = 0.02
"""Of the limit."""

U_APART = 0.1
"""Of the expanded uncertainty; and never less than the last decimal that the journal keeps."""

_LAST_DECIMAL = 0.0002
_LEVELS_APART, _MOST_APART = 16, 0.005
"""Of 255 brightness levels; the share of a drawing's pixels that may differ by more."""


def again_problems(case: Case) -> list[Sentence]:
    """Where an original gives something else than its event says. Raises as ``events``."""
    problems: list[Sentence] = []
    state = JobState()
    for event in case.events:
        body = v.read_body(event.kind, event.body)
        if isinstance(body, v.PhotoJudged):
            found = _judged(case, state, body)
        elif isinstance(body, v.Measured):
            found = _measured(case, state, body)
        else:
            found = iter(())
        for what in found:
            path = case.find_original(
                body.photo if isinstance(body, v.PhotoJudged | v.Measured) else ""
            )
            problems.append(
                sentence(
                    "{file}: event {sequence}: {what}", file=path, sequence=event.sequence, what=what
                )
            )
        state = apply(state, event)
    return problems


def _judged(case: Case, state: JobState, body: v.PhotoJudged) -> Iterator[Sentence]:
    asked = asked_of(case.step_list, state, state.photo(body.photo))
    try:
        again = judge(case.load_original(body.photo), bool(asked and asked.scale_card)).checks
    except EvidenceError:
        again = ()  # recorded as a picture that cannot be decoded, or the kinds differ
    told = {check.name: check for check in body.checks}
    if again and told.keys() != {check.name for check in again}:
        yield sentence("was judged by other checks than the gate makes")
        return
    for check in again:
        value, limit = told[check.name].value, abs(check.limit or 0.0)
        if value is None or abs(value - check.value) > max(GATE_APART * limit, _LAST_DECIMAL):
            yield sentence(
                "{check} is {again:g} {unit} on the photo, not {told}",
                check=check.name,
                again=check.value,
                unit=check.unit,
                told=value,
            )


def _measured(case: Case, state: JobState, body: v.Measured) -> Iterator[Sentence]:
    photo = state.photo(body.photo)
    asked = asked_of(case.step_list, state, photo)
    if photo is None or asked is None or asked.measurement is None:
        return  # conduct says so
    beside = [
        case.load_original(other.sha256) if other else None
        for other in (
            newest_settled(state, asked.measurement.reference),
            newest_settled(state, asked.measurement.second, photo.step),
        )
    ]
    told = body.result
    again, drawing = measure(
        case.load_original(body.photo), asked, beside[0], _card(told.get("card")), beside[1]
    )
    yield from _otherwise(told, again)
    if (drawing is None) != (body.markup is None) or (
        drawing is not None and not _alike(drawing, case.load_original(body.markup.sha256))
    ):
        yield sentence("its drawing is not the one that measuring this photo gives")


def _otherwise(told: dict[str, Any], again: dict[str, Any]) -> Iterator[Sentence]:
    if told.get("method") != again["method"]:
        yield sentence(
            "was measured by “{told}”, measured again by “{again}”",
            told=told.get("method"),
            again=again["method"],
        )
        return
    room = max(U_APART * (again["U"] or 0.0), _LAST_DECIMAL)
    for name in ("value", "U"):
        was, now = told.get(name), again[name]
        if (was is None) != (now is None) or (was is not None and abs(was - now) > room):
            yield sentence(
                "its {quantity} is {again} {unit} when measured again, not {told}",
                quantity=name,
                again=now,
                unit=again["unit"],
                told=was,
            )


def _card(told: Any) -> Card | None:
    if not isinstance(told, dict) or not told.get("confirmed"):
        return None
    names = ("serial", "scale", "scale_u", "thickness_mm", "thickness_u_mm")
    return Card(*(told.get(name) for name in names))


def _alike(drawing: bytes, told: bytes) -> bool:
    one, other = (Image.open(io.BytesIO(data), formats=["PNG"]) for data in (drawing, told))
    if one.size != other.size:
        return False
    apart = np.abs(np.asarray(one.convert("L"), np.int16) - np.asarray(other.convert("L"), np.int16))
    return float(np.mean(apart > _LEVELS_APART)) <= _MOST_APART
