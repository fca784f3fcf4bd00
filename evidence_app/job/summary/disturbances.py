"""What disturbed a job: clocks, restarts, lost devices, absences, recoveries.

Steps of the clock and restarts are taken from their events, and looked for once
more in the times of all events, so that one which was left out still shows.
"""

from itertools import islice, pairwise, takewhile

from evidence_app.job import vocabulary as v
from evidence_app.job.summary.event_sentences import RESTARTED, clock_sentence
from evidence_app.job.summary.journal import ReadJournal, TypedEvent, moment_of, mono_s, wall_s
from evidence_app.job.summary.model import Absence, ClockNote, DeviceLoss, RecoveryRecord
from evidence_app.record.clock import clock_changes
from evidence_app.sentence import joined, sentence

_CLOCK_BODIES = (v.ClockStepped, v.MachineRestarted)

# What is recorded on taking a job up, before job-resumed itself.
_ON_RESUMING = (*_CLOCK_BODIES, v.RecordRecovered)


def clock_notes(journal: ReadJournal) -> list[ClockNote]:
    """Every step of the clock and restart, recorded or only to be seen in the times."""
    notes = [(entry.sequence, _note(entry, entry.body)) for entry in journal.all_of(*_CLOCK_BODIES)]
    for at, (before, after) in enumerate(pairwise(journal.entries), start=1):
        for body in _changes(before, after):
            if isinstance(body, _CLOCK_BODIES) and type(body) not in _clock_bodies_at(journal.entries, at):
                notes.append((after.sequence, _note(after, body, False)))
    return [note for _, note in sorted(notes, key=lambda pair: pair[0])]


def _clock_bodies_at(entries: tuple[TypedEvent, ...], at: int) -> set[type]:
    """The kinds of the clock events that stand together from index ``at`` on."""
    here = (entry.body for entry in islice(entries, at, at + len(_CLOCK_BODIES)))
    return {type(body) for body in takewhile(lambda body: isinstance(body, _CLOCK_BODIES), here)}


def _changes(before: TypedEvent, after: TypedEvent) -> list[v.Body]:
    try:
        drafts = clock_changes(before.event.instant, after.event.instant)
    except ValueError:  # a wall time that cannot be read
        return []
    return [v.read_body(draft.kind, draft.body) for draft in drafts]


def _note(entry: TypedEvent, body: v.ClockStepped | v.MachineRestarted, recorded: bool = True):
    if isinstance(body, v.MachineRestarted):
        kind, by_s, said = "restarted", None, RESTARTED
    else:
        kind, by_s = "earlier" if body.earlier else "stepped", body.by_s
        said = clock_sentence(by_s, body.earlier)
    if not recorded:
        unrecorded = sentence("The journal has no event for this; the times of its events show it.")
        said = joined(" ", (said, unrecorded))
    return ClockNote(**entry.at, kind=kind, by_s=by_s, recorded=recorded, sentence=said)


def device_losses(journal: ReadJournal) -> list[DeviceLoss]:
    """Every loss with the next return of the same device by the same name."""
    pairs = journal.paired(
        v.SourceLost, v.SourceReturned, key=lambda entry: (entry.body.device, entry.body.name)
    )
    return [
        DeviceLoss(
            **lost.fields(), returned=moment_of(returned), away_s=returned.body.away_s if returned else None
        )
        for lost, returned in pairs
    ]


def recoveries(journal: ReadJournal) -> list[RecoveryRecord]:
    return [RecoveryRecord(**entry.fields()) for entry in journal.of(v.RecordRecovered)]


def absences(journal: ReadJournal) -> list[Absence]:
    """Every leaving and taking up again, also without a leaving (a power cut)."""
    found = []
    left: TypedEvent | None = None
    for at, entry in enumerate(journal.entries):
        if isinstance(entry.body, v.JobLeft):
            left = entry
        elif isinstance(entry.body, v.JobResumed):
            since = left or _last_before_resuming(journal.entries, at)
            found.append(Absence(moment_of(left), entry.moment, wall_s(since, entry)))
            left = None
    return [*found, Absence(left.moment, None, None)] if left else found


def worked_s(journal: ReadJournal) -> float:
    """Monotonic seconds between neighbouring events, without absences and restarts."""
    away = {
        id(_last_before_resuming(journal.entries, at))
        for at, event in enumerate(journal.entries)
        if isinstance(event.body, v.JobResumed)
    }
    spans = (
        mono_s(before, after)
        for before, after in pairwise(journal.entries)
        if not isinstance(before.body, v.JobLeft) and id(before) not in away
    )
    return round(sum(span for span in spans if span is not None and span > 0), 6)


def _last_before_resuming(events: tuple[TypedEvent, ...], resumed: int) -> TypedEvent | None:
    """The last event before a job was taken up at index ``resumed``."""
    at = resumed - 1
    while at >= 0 and isinstance(events[at].body, _ON_RESUMING):
        at -= 1
    return events[at] if at >= 0 else None
