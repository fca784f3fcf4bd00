"""What disturbed a job: clocks, restarts, lost devices, absences, recoveries.

Steps of the clock and restarts are taken from their events, and looked for once
more in the times of all events, so that one which was left out still shows.
"""

from __future__ import annotations

from itertools import islice, pairwise, takewhile

from evidence_app.job.summary.event_sentences import RESTARTED, clock_sentence
from evidence_app.job.summary.model import Absence, ClockNote, DeviceLoss, Outcome, Recovery
from evidence_app.job.summary.trail import Trail
from evidence_app.job.summary.untrusted import (
    flag,
    moment,
    mono_s,
    number,
    text,
    texts,
    wall_s,
)
from evidence_app.record.clock import clock_changes
from evidence_app.record.event import Draft, Event

_CLOCK_KINDS = ("clock-stepped", "machine-restarted")

# What is recorded on taking a job up, before job-resumed itself.
_ON_RESUMING = (*_CLOCK_KINDS, "record-recovered")


def clock_notes(trail: Trail) -> list[ClockNote]:
    """Every step of the clock and restart, recorded or only to be seen in the times."""
    notes = [(event.sequence, _note(event, event.kind, event.body)) for event in
             trail.all_of(*_CLOCK_KINDS)]  # fmt: skip
    for at, (before, after) in enumerate(pairwise(trail.events), start=1):
        for change in _changes(before, after):
            if change.kind not in _clock_kinds_at(trail.events, at):
                notes.append((after.sequence, _note(after, change.kind, change.body, False)))
    return [note for _, note in sorted(notes, key=lambda pair: pair[0])]


def _clock_kinds_at(events: tuple[Event, ...], at: int) -> set[str]:
    """The kinds of the clock events that stand together from index ``at`` on."""
    here = islice(events, at, at + len(_CLOCK_KINDS))
    return {event.kind for event in takewhile(lambda e: e.kind in _CLOCK_KINDS, here)}


def _changes(before: Event, after: Event) -> list[Draft]:
    try:
        return clock_changes(before.instant, after.instant)
    except ValueError:  # a wall time that cannot be read
        return []


def _note(event: Event, kind: str, body: dict, recorded: bool = True) -> ClockNote:
    by_s, earlier = number(body, "by_s"), bool(flag(body, "earlier"))
    restarted = kind == "machine-restarted"
    sentence = RESTARTED if restarted else clock_sentence(by_s, earlier)
    if not recorded:
        sentence += " The journal has no event for this; the times of its events show it."
    return ClockNote(
        sequence=event.sequence,
        wall=event.wall,
        kind="restarted" if restarted else "earlier" if earlier else "stepped",
        by_s=by_s,
        recorded=recorded,
        sentence=sentence,
    )


def device_losses(trail: Trail) -> list[DeviceLoss]:
    """Every loss with the next return of the same device by the same name."""
    losses: list[DeviceLoss] = []
    waiting: dict[tuple[str | None, str | None], tuple[int, Event]] = {}
    for event in trail.of("device-lost", "device-returned"):
        key = (text(event.body, "device"), text(event.body, "name"))
        if event.kind == "device-lost":
            waiting[key] = (len(losses), event)
            losses.append(_loss(event, None))
        elif key in waiting:
            at, lost = waiting.pop(key)
            losses[at] = _loss(lost, event)
    return losses


def _loss(lost: Event, returned: Event | None) -> DeviceLoss:
    return DeviceLoss(
        sequence=lost.sequence,
        wall=lost.wall,
        device=text(lost.body, "device"),
        name=text(lost.body, "name"),
        message=text(lost.body, "message"),
        returned=moment(returned) if returned else None,
        away_s=number(returned.body, "away_s") if returned else None,
    )


def recoveries(trail: Trail) -> list[Recovery]:
    return [
        Recovery(
            sequence=event.sequence,
            wall=event.wall,
            set_aside=texts(event.body, "set_aside"),
            finished=texts(event.body, "finished"),
        )
        for event in trail.of("record-recovered")
    ]


def absences(trail: Trail) -> list[Absence]:
    """Every leaving and taking up again, also without a leaving (a power cut)."""
    found: list[Absence] = []
    left: Event | None = None
    for at, event in enumerate(trail.events):
        if event.kind == "job-left":
            left = event
        elif event.kind == "job-resumed":
            since = left or _last_before_resuming(trail.events, at)
            found.append(
                Absence(
                    left=moment(left) if left else None,
                    resumed=moment(event),
                    away_s=wall_s(since, event) if since else None,
                )
            )
            left = None
    if left:
        found.append(Absence(left=moment(left), resumed=None, away_s=None))
    return found


def worked_s(trail: Trail) -> float:
    """Monotonic seconds between neighbouring events, without absences and restarts."""
    away = {
        id(_last_before_resuming(trail.events, at))
        for at, event in enumerate(trail.events)
        if event.kind == "job-resumed"
    }
    spans = (
        mono_s(before, after)
        for before, after in pairwise(trail.events)
        if before.kind != "job-left" and id(before) not in away
    )
    return round(sum(span for span in spans if span is not None and span > 0), 6)


def _last_before_resuming(events: tuple[Event, ...], resumed: int) -> Event | None:
    """The last event before a job was taken up at index ``resumed``."""
    at = resumed - 1
    while at >= 0 and events[at].kind in _ON_RESUMING:
        at -= 1
    return events[at] if at >= 0 else None


def outcome(trail: Trail, opened: Event | None, closed: Event | None, sentence: str) -> Outcome:
    """The outcome with its times; ``sentence`` is made by the caller."""
    return Outcome(
        outcome=(text(closed.body, "outcome") or "not stated") if closed else "open",
        reason=text(closed.body, "reason") if closed else None,
        sentence=sentence,
        opened_at=opened.wall if opened else None,
        closed_at=closed.wall if closed else None,
        elapsed_s=wall_s(opened, closed) if opened and closed else None,
        worked_s=worked_s(trail),
    )
