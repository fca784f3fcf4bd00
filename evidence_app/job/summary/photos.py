"""Every take of a job, with what the gate and the measurements said of it.

``counts`` marks the take that answers for what was owed: the newest that stands, when it
passed or was kept with a reason.
"""

from collections import defaultdict
from typing import Any

from evidence_app.job import vocabulary as v
from evidence_app.job.summary.journal import ReadJournal, TypedEvent, first_of
from evidence_app.job.summary.model_step import MeasurementRecord, PhotoRecord
from evidence_app.job.summary.open_parts import number, shallow, text

_TEXTS = ("kind", "unit", "conformity", "method", "sentence")
_NUMBERS = ("value", "U")


def photos(journal: ReadJournal, framings: dict[str, str]) -> list[PhotoRecord]:
    """Every take, in order. ``framings`` are those of the photos asked for, by id."""
    said_of = _said_of_photos(journal)

    def view(take: TypedEvent) -> tuple[bool | str | None, str | int]:
        """What a take is a take of; a photo that nobody asked for is its own view."""
        return journal.after_stop(take) or take.step, take.body.wanted or take.sequence

    newest = journal.newest(v.PhotoTaken, view)

    def shown(take: TypedEvent) -> PhotoRecord:
        body: v.PhotoTaken = take.body
        said = said_of[take.sequence]
        is_wanted, is_newest = body.wanted is not None, take.sequence in newest
        judged = first_of(reversed(said), v.PhotoJudged)
        kept = first_of(reversed(said), v.PhotoKept)
        passes = judged.body.passes if judged else None
        return take.told(
            PhotoRecord,
            original=body.photo,
            framing=framings.get(body.wanted or ""),
            source_kind=text(body.source, "kind"),
            source_name=text(body.source, "name"),
            round=journal.round_of(take),
            passes=passes,
            checks=judged.body.checks if judged else (),
            kept_reason=kept.body.reason if kept else None,
            measurements=tuple(_measurement(e) for e in said if isinstance(e.body, v.Measured)),
            counts=is_wanted and is_newest and (passes is True or kept is not None),
            superseded=journal.is_void(take) or (is_wanted and not is_newest),
        )

    return [shown(take) for take in journal.all_of(v.PhotoTaken)]


def _said_of_photos(journal: ReadJournal) -> dict[int, list[TypedEvent]]:
    """Judgements, kept reasons and measurements by the sequence of the take they are about:
    the latest take of those bytes before them."""
    latest: dict[str, int] = {}
    said: dict[int, list[TypedEvent]] = defaultdict(list)
    for entry in journal.of(v.PhotoTaken, v.PhotoJudged, v.PhotoKept, v.Measured):
        if isinstance(entry.body, v.PhotoTaken):
            latest[entry.body.photo.sha256] = entry.sequence
        elif (take := latest.get(entry.body.photo)) is not None:
            said[take].append(entry)
    return said


def _measurement(entry: TypedEvent) -> MeasurementRecord:
    result = entry.body.result
    said: dict[str, Any] = {name: text(result, name) for name in _TEXTS}
    said |= {name: number(result, name) for name in _NUMBERS}
    more = {name: shallow(each) for name, each in result.items() if name not in said}
    return entry.told(MeasurementRecord, **said, more=more)
