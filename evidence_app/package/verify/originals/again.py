"""Every photo judged and measured again: do its bytes give what the journal says of it?

The same bytes are measured by the same method, so only the arithmetic of another machine leaves
room: two hundredths of a gate's limit, a tenth of a measurement's uncertainty (common practice,
no source).
"""

import io
from collections.abc import Iterator
from typing import Any, cast

import numpy as np
from PIL import Image

from evidence_app.errors import EvidenceError
from evidence_app.job import vocabulary as v
from evidence_app.job.rules.route import asked_of, newest_settled
from evidence_app.job.state.fold import apply
from evidence_app.job.state.job_state import JobState
from evidence_app.package.verify.case import Case, Unavailable
from evidence_app.photo.gap.measure import Card
from evidence_app.photo.gate.judge import judge
from evidence_app.photo.measure import measure
from evidence_app.record.event import is_number
from evidence_app.sentence import Sentence, sentence

GATE_APART = 0.02
"""Of the limit."""

U_APART = 0.1
"""Of the expanded uncertainty."""

_LAST_DECIMAL = 0.0002
_VERSIONS = ("", "; second version", "; third version")  # how a method ends by its version
_LEVELS_APART, _MOST_APART = 16, 0.005
"""Of 255 brightness levels; the share of a drawing's pixels that may differ by more."""


class OtherMethod(Exception):
    """A photo was measured by the method of a version of the app before this one."""


def again_problems(case: Case) -> tuple[list[Sentence], int]:
    """Where an original gives something else than its event says, and how many photos were
    not measured: withheld, or by another version's method, which proves nothing either way. Raises as ``events``."""
    by_another, total = 0, sum(case.archive.sizes.values())
    problems: list[Sentence] = []
    state = JobState()
    for event in case.events:
        body = v.read_body(event.kind, event.body)
        if isinstance(body, v.PhotoJudged | v.Measured):
            if case.progress:
                case.progress(total * event.sequence // len(case.events), total)
            found = (
                _judged(case, state, body)
                if isinstance(body, v.PhotoJudged)
                else _measured(case, state, body)
            )
            file = case.find_original(body.photo)
            try:
                otherwise = list(found)
            except (OtherMethod, Unavailable):  # the latter only where an original is withheld
                by_another += 1
                continue
            for what in otherwise:
                told = sentence(
                    "{file}: event {sequence}: {what}", file=file, sequence=event.sequence, what=what
                )
                problems.append(told)
        state = apply(state, event)
    return problems, by_another


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
    clean, other = (case.load_original(p.sha256) if p else None for p in (reference, second))
    data, told = case.load_original(body.photo), body.result
    again, drawing = measure(data, asked, clean, _card(told.get("card")), other)
    if told.get("method") != again["method"]:
        if told.get("method") in _former(again["method"]):
            raise OtherMethod
        yield sentence(
            "was measured by “{told}”, measured again by “{again}”",
            told=told.get("method"),
            again=again["method"],
        )
        return
    room = max(U_APART * (again["U"] or 0.0), _LAST_DECIMAL)
    for name in ("value", "U"):
        yield from _apart(name, told.get(name), again[name], room, again["unit"])
    drawn = case.load_original(body.markup.sha256) if body.markup else None
    if (drawing is None) != (drawn is None) or (drawing and drawn and not _alike(drawing, drawn)):
        yield sentence("its drawing is not the one that measuring this photo gives")


def _former(method: str) -> tuple[str, ...]:
    """A method's versions before this one."""
    number = max(n for n, end in enumerate(_VERSIONS) if method.endswith(end))
    return tuple(method.removesuffix(_VERSIONS[number]) + end for end in _VERSIONS[:number])


def _apart(name: str, told: Any, again: float | None, room: float, unit: str) -> Iterator[Sentence]:
    if told == again or (is_number(told) and again is not None and abs(told - again) <= room):
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
    numbers = [told.get(n) for n in ("scale", "scale_u", "thickness_mm", "thickness_u_mm")]
    if not all(map(is_number, numbers)):
        return None  # a journal may say anything: then the measurements differ, which is told
    return Card(str(told.get("serial")), *map(float, cast(list[float], numbers)))


def _alike(drawing: bytes, told: bytes) -> bool:
    one, other = (Image.open(io.BytesIO(data), formats=["PNG"]).convert("L") for data in (drawing, told))
    if one.size != other.size:
        return False
    apart = np.abs(np.asarray(one, np.int16) - np.asarray(other, np.int16))
    return float(np.mean(apart > _LEVELS_APART)) <= _MOST_APART
