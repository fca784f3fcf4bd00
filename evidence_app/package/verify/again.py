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
"""Of the expanded uncertainty."""

_LAST_DECIMAL = 0.0002
_LEVELS_APART, _MOST_APART = 16, 0.005
"""Of 255 brightness levels; the share of a drawing's pixels that may differ by more."""


def again_problems(case: Case) -> list[Sentence]:
    """Where an original gives something else than its event says. Raises as ``events``."""
    problems: list[Sentence] = []
    state = JobState()
    for event in case.events:
        body = v.read_body(event.kind, event.body)
        if isinstance(body, v.PhotoJudged | v.Measured):
            look = _judged if isinstance(body, v.PhotoJudged) else _measured
            where = {"file": case.find_original(body.photo), "sequence": event.sequence}
            for what in look(case, state, body):
                problems.append(sentence("{file}: event {sequence}: {what}", what=what, **where))
        state = apply(state, event)
    return problems


def _judged(case: Case, state: JobState, body: v.PhotoJudged) -> Iterator[Sentence]:
    asked = asked_of(case.step_list, state, state.photo(body.photo))
    try:
        again = judge(case.load_original(body.photo), bool(asked and asked.scale_card)).checks
    except EvidenceError:
        return  # recorded as a picture that cannot be decoded
    told = {check.name: check.value for check in body.checks}
    if told.keys() != {check.name for check in again}:
        yield sentence("was judged by other checks than the gate makes")
        return
    for check in again:
        room = max(GATE_APART * abs(check.limit), _LAST_DECIMAL)
        yield from _apart(str(check.name), told[check.name], check.value, room, check.unit)


def _measured(case: Case, state: JobState, body: v.Measured) -> Iterator[Sentence]:
    photo = state.photo(body.photo)
    asked = asked_of(case.step_list, state, photo)
    if photo is None or asked is None or asked.measurement is None:
        return  # conduct says so
    reference = newest_settled(state, asked.measurement.reference)
    second = newest_settled(state, asked.measurement.second, photo.step)
    clean, other = (each and case.load_original(each.sha256) for each in (reference, second))
    data, told = case.load_original(body.photo), body.result
    again, drawing = measure(data, asked, clean, _card(told.get("card")), other)
    if told.get("method") != again["method"]:
        yield sentence(
            "was measured by “{told}”, measured again by “{again}”",
            told=told.get("method"),
            again=again["method"],
        )
        return
    room = max(U_APART * (again["U"] or 0.0), _LAST_DECIMAL)
    for name in ("value", "U"):
        yield from _apart(name, told.get(name), again[name], room, again["unit"])
    drawn = body.markup and case.load_original(body.markup.sha256)
    if (drawing is None) != (drawn is None) or (drawing and not _alike(drawing, drawn)):
        yield sentence("its drawing is not the one that measuring this photo gives")


def _apart(name: str, told: Any, again: float | None, room: float, unit: str) -> Iterator[Sentence]:
    if told == again or (told is not None and again is not None and abs(told - again) <= room):
        return
    yield sentence(
        "its {quantity} is {again} {unit} when measured again, not {told}",
        quantity=name,
        again=again,
        unit=unit,
        told=told,
    )


def _card(told: Any) -> Card | None:
    if not isinstance(told, dict) or not told.get("confirmed"):
        return None
    names = ("serial", "scale", "scale_u", "thickness_mm", "thickness_u_mm")
    return Card(*(told.get(name) for name in names))


def _alike(drawing: bytes, told: bytes) -> bool:
    one, other = (
        Image.open(io.BytesIO(data), formats=["PNG"]).convert("L") for data in (drawing, told)
    )
    if one.size != other.size:
        return False
    apart = np.abs(np.asarray(one, np.int16) - np.asarray(other, np.int16))
    return float(np.mean(apart > _LEVELS_APART)) <= _MOST_APART
