"""Every take of a job, with what the gate and the measurements said of it.

``counts`` marks the take that answers for what was owed: the newest that stands, when it
passed or was kept with a reason.
"""

from collections.abc import Sequence
from functools import partial
from typing import Any

from evidence_app.job import vocabulary as v
from evidence_app.job.summary.journal import ReadJournal, TypedEvent, first_of
from evidence_app.job.summary.model_step import MeasurementRecord, PhotoRecord
from evidence_app.job.summary.open_parts import number, shallow, text

_TEXTS = ("kind", "unit", "conformity", "method", "sentence")
_NUMBERS = ("value", "U")


def photos(journal: ReadJournal, framings: dict[str, str]) -> list[PhotoRecord]:
    """Every take, in order. ``framings`` are those of the photos asked for, by id."""
    said = _said_of_photos(journal)
    newest = journal.newest(v.PhotoTaken, partial(_view, journal))
    return [
        _photo(journal, take, framings, said.get(take.sequence, ()), take.sequence in newest)
        for take in journal.all_of(v.PhotoTaken)
    ]


def _photo(
    journal: ReadJournal,
    take: TypedEvent,
    framings: dict[str, str],
    said: Sequence[TypedEvent],
    is_newest: bool,
) -> PhotoRecord:
    body: v.PhotoTaken = take.body
    judged = first_of(reversed(said), v.PhotoJudged)
    kept = first_of(reversed(said), v.PhotoKept)
    passes = judged.body.passes if judged else None
    return PhotoRecord(
        **take.at,
        step=take.step,
        original=body.photo,
        wanted=body.wanted,
        framing=framings.get(body.wanted or ""),
        purpose=body.purpose,
        width=body.width,
        height=body.height,
        source_kind=text(body.source, "kind"),
        source_name=text(body.source, "name"),
        retake_of=body.retake_of,
        round=journal.round_of(take),
        passes=passes,
        checks=judged.body.checks if judged else (),
        kept_reason=kept.body.reason if kept else None,
        measurements=tuple(_measurement(e) for e in said if isinstance(e.body, v.Measured)),
        counts=body.wanted is not None and is_newest and (passes is True or kept is not None),
        superseded=journal.is_void(take) or (body.wanted is not None and not is_newest),
        taken_back=take.sequence in journal.undone,
    )


def _view(journal: ReadJournal, take: TypedEvent) -> tuple[bool, str | None, str | int]:
    """What a take is a take of; a photo that nobody asked for is its own view."""
    wanted = take.body.wanted or take.sequence
    return (True, None, wanted) if journal.after_stop(take) else (False, take.step, wanted)


def _said_of_photos(journal: ReadJournal) -> dict[int, list[TypedEvent]]:
    """Judgements, kept reasons and measurements by the sequence of the take they are about:
    the latest take of those bytes before them."""
    latest: dict[str, int] = {}
    said: dict[int, list[TypedEvent]] = {}
    for entry in journal.of(v.PhotoTaken, v.PhotoJudged, v.PhotoKept, v.Measured):
        if isinstance(entry.body, v.PhotoTaken):
            latest[entry.body.photo.sha256] = entry.sequence
        elif (take := latest.get(entry.body.photo)) is not None:
            said.setdefault(take, []).append(entry)
    return said


def _measurement(entry: TypedEvent) -> MeasurementRecord:
    result = entry.body.result
    said: dict[str, Any] = {name: text(result, name) for name in _TEXTS}
    said |= {name: number(result, name) for name in _NUMBERS}
    return MeasurementRecord(
        **entry.at,
        **said,
        wanted=entry.body.wanted,
        markup=entry.body.markup,
        more={k: shallow(each) for k, each in result.items() if k not in _TEXTS + _NUMBERS},
    )
