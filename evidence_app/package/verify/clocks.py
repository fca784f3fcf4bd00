"""The check of times: clocks.

Nobody can prove a time with a clock that its owner may set. What can be seen is
whether the times contradict each other. A step of the clock that the app
recorded is shown and is no failure: it happens to honest people. A step that
stands in the times and in no event is one, because the app records every step.
"""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from itertools import pairwise

from evidence_app.package.verify.case import Case, named
from evidence_app.package.verify.originals.exif_time import HEAD_BYTES, time_taken
from evidence_app.package.verify.result import CheckResult, fails, holds
from evidence_app.package.zip.archive import read_head
from evidence_app.record import times
from evidence_app.record.clock import STEP_TOLERANCE_S, SystemClock, clock_changes
from evidence_app.record.event import Draft, Event, is_number
from evidence_app.sentence import NOTHING, Sentence, sentence

_CLOCK_KINDS = ("clock-stepped", "machine-restarted")

# Photos that the app encodes carry the time of their exposure. Between exposure and event
# lie encoding and writing; two minutes leave room for a slow disk.
_ENCODED_BY_APP = ("camera", "stream", "practice")
_EXPOSURE_TO_EVENT = timedelta(minutes=2)

# Clocks of different machines are compared with this much patience (common practice, no source).
CLOCKS_APART = timedelta(minutes=5)

# A camera of its own has its own clock and often no offset; a day covers every time zone.
_OTHER_CLOCK = timedelta(days=1)


def check_clocks(case: Case) -> CheckResult:
    """Do wall clock, monotonic clock and the photos' own times agree?"""
    shown, problems = _in_journal(case.events)
    problems += _in_future(case.events[-1])
    for more_shown, more_problems in (_in_photo(case, *pair) for pair in _photos(case.events)):
        shown += more_shown
        problems += more_problems
    if problems:
        return fails("clocks", "times contradict each other and no event says why", problems + shown)
    if shown:
        return holds("clocks", "every disturbance of the clocks is recorded; see each", shown)
    return holds("clocks", "wall clock and monotonic clock agree from beginning to end")


def _in_future(closed: Event) -> Iterator[Sentence]:
    now = SystemClock().now().wall
    if times.parse(closed.wall) > times.parse(now) + CLOCKS_APART:
        yield sentence(
            "event {sequence} ({kind}): is of {wall}, and this computer's clock says {now}",
            **named(closed),
            wall=closed.wall,
            now=now,
        )


def _in_journal(events: Sequence[Event]) -> tuple[list[Sentence], list[Sentence]]:
    """What was recorded of the clocks, and what stands in the times unrecorded."""
    shown = [_recorded_sentence(event) for event in events if event.kind in _CLOCK_KINDS]
    problems: list[Sentence] = []
    for (before, after), told in zip(pairwise(events), _told_next(events), strict=True):
        if before.kind in _CLOCK_KINDS and before.instant == after.instant:
            continue  # written for the same moment, judged together with the first of them
        changes = clock_changes(before.instant, after.instant)
        problems += _disagreements(before, after, told, changes)
    return shown, problems


def _told_next(events: Sequence[Event]) -> list[dict[str, Event]]:
    """For each event but the last, the clock events that follow it without a gap: the last of
    each kind. From behind in one pass, because journals can be long."""
    told: list[dict[str, Event]] = [{}]
    for event in reversed(events[1:]):
        told.append({event.kind: event} | told[-1] if event.kind in _CLOCK_KINDS else {})
    return told[:0:-1]


def _disagreements(
    before: Event, after: Event, told: dict[str, Event], changes: Sequence[Draft]
) -> Iterator[Sentence]:
    seen = {change.kind: change for change in changes}
    for kind, change in seen.items():
        if kind not in told:
            unrecorded = _unrecorded_sentence(before, change)
            yield sentence("event {sequence}: {before}", sequence=after.sequence, before=unrecorded)
    for kind, event in told.items():
        if kind not in seen:
            yield sentence("event {sequence} ({kind}): the times do not show it", **named(event))
        elif kind == "clock-stepped" and not _same_step(event, seen[kind]):
            yield sentence(
                "event {sequence} (clock-stepped): says {by_s} s, the times show {shown} s",
                sequence=event.sequence,
                by_s=event.body.get("by_s"),
                shown=seen[kind].body["by_s"],
            )


def _same_step(event: Event, change: Draft) -> bool:
    told = event.body.get("by_s")
    return is_number(told) and abs(told - change.body["by_s"]) <= STEP_TOLERANCE_S


def _photos(events: Sequence[Event]) -> list[tuple[Event, Event]]:
    """Each photo-taken event with the event before it."""
    return [(before, event) for before, event in pairwise(events) if event.kind == "photo-taken"]


def _in_photo(case: Case, before: Event, event: Event) -> tuple[list[Sentence], list[Sentence]]:
    """What a photo's own time shows beside the journal's, and what it contradicts."""
    path = _path(case, event)
    if path is None:
        return [], []
    taken = time_taken(read_head(case.archive, path, HEAD_BYTES))
    source = event.body.get("source")
    by_app = isinstance(source, dict) and source.get("kind") in _ENCODED_BY_APP
    wall = times.parse(event.wall)
    if by_app:
        if taken is None or taken.tzinfo is None:
            told = sentence("{path}: carries no time, though the app's own camera took it", path=path)
            return [], [told]
        around = [wall]
        if before.kind == "clock-stepped" and isinstance(before.body.get("by_s"), int | float):
            around.append(wall - timedelta(seconds=before.body["by_s"]))
        if any(abs(taken - moment) <= _EXPOSURE_TO_EVENT for moment in around):
            return [], []
        return [], [sentence('{path}: carries the time {taken}, event {sequence} is of {wall}', path=path, taken=taken.isoformat(), sequence=event.sequence, wall=event.wall)]  # fmt: skip
    if (
        taken is not None
        and abs(taken - (wall if taken.tzinfo else wall.replace(tzinfo=None))) > _OTHER_CLOCK
    ):
        return [sentence("{path}: its camera's own clock says {taken}, the journal {wall}", path=path, taken=taken.isoformat(), wall=event.wall)], []  # fmt: skip
    return [], []


def _path(case: Case, event: Event) -> str | None:
    photo = event.body.get("photo")
    named = photo.get("sha256") if isinstance(photo, dict) else None
    return case.find_original(named) if isinstance(named, str) else None


def _recorded_sentence(event: Event) -> Sentence:
    if event.kind == "machine-restarted":
        return sentence(
            "event {sequence} at {wall}: the tablet was restarted", sequence=event.sequence, wall=event.wall
        )
    earlier = event.body.get("earlier")
    back = sentence(", to a time earlier than the event before") if earlier else NOTHING
    return sentence(
        "event {sequence} at {wall}: the tablet's clock was set by {by_s} s{back}",
        sequence=event.sequence,
        wall=event.wall,
        by_s=event.body.get("by_s"),
        back=back,
    )


def _unrecorded_sentence(before: Event, change: Draft) -> Sentence:
    if change.kind == "machine-restarted":
        return sentence(
            "another run of the tablet than event {sequence}, without an event for it",
            sequence=before.sequence,
        )
    return sentence(
        "the wall clock moved by {by_s} s against the monotonic clock since event {sequence}, without an event for it",
        by_s=change.body["by_s"],
        sequence=before.sequence,
    )
