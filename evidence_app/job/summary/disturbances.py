"""What disturbed a job: clocks, restarts, lost devices, absences, recoveries.

Steps of the clock and restarts are taken from their events, and looked for once
more in the times of all events, so that one which was left out still shows.
"""

from collections.abc import Iterator
from itertools import islice, pairwise, takewhile

from evidence_app.job import vocabulary as v
from evidence_app.job.summary.event_sentences import RESTARTED, clock_sentence
from evidence_app.job.summary.journal import ReadJournal, TypedEvent, moment_of, mono_s, wall_s
from evidence_app.job.summary.model import Absence, ClockNote, DeviceLoss
from evidence_app.job.summary.model_step import carried
from evidence_app.record.clock import clock_changes
from evidence_app.sentence import joined, sentence

_Event = TypedEvent | None
_CLOCK_BODIES = (v.ClockStepped, v.MachineRestarted)

# What is recorded on taking a job up, before job-resumed itself.
_ON_RESUMING = (*_CLOCK_BODIES, v.RecordRecovered)


def clock_notes(journal: ReadJournal) -> list[ClockNote]:
    """Every step of the clock and restart, recorded or only to be seen in the times."""
    notes = [_note(entry, entry.body) for entry in journal.all_of(*_CLOCK_BODIES)]
    for at, (before, after) in enumerate(pairwise(journal.entries), start=1):
        for body in _changes(before, after):
            if type(body) not in _clock_bodies_at(journal.entries, at):
                notes.append(_note(after, body, recorded=False))
    return sorted(notes, key=lambda note: note.sequence)


def _clock_bodies_at(entries: tuple[TypedEvent, ...], at: int) -> set[type]:
    """The kinds of the clock events that stand together from index ``at`` on."""
    here = (entry.body for entry in islice(entries, at, at + len(_CLOCK_BODIES)))
    return {type(body) for body in takewhile(lambda body: isinstance(body, _CLOCK_BODIES), here)}


def _changes(before: TypedEvent, after: TypedEvent) -> list[v.Body]:
    try:
        drafts = clock_changes(before.instant, after.instant)
    except ValueError:  # a wall time that cannot be read
        return []
    return [v.read_body(draft.kind, draft.body) for draft in drafts]


def _note(entry: TypedEvent, body: v.Body, recorded: bool = True) -> ClockNote:
    kind, said = "restarted", RESTARTED
    if isinstance(body, v.ClockStepped):
        kind, said = "earlier" if body.earlier else "stepped", clock_sentence(body.by_s, body.earlier)
    if not recorded:
        unrecorded = sentence("The journal has no event for this; the times of its events show it.")
        said = joined(" ", (said, unrecorded))
    return carried(ClockNote, entry, body, kind=kind, recorded=recorded, sentence=said)


def device_losses(journal: ReadJournal) -> list[DeviceLoss]:
    """Every loss with the next return of the same device by the same name."""
    pairs = journal.paired(
        v.SourceLost, v.SourceReturned, key=lambda entry: (entry.body.device, entry.body.name)
    )
    return [
        lost.told(DeviceLoss, returned=moment_of(back), away_s=back.body.away_s if back else None)
        for lost, back in pairs
    ]


def absences(journal: ReadJournal) -> list[Absence]:
    """Every leaving and taking up again, also without a leaving (a power cut)."""
    return [
        Absence(moment_of(left), moment_of(resumed), wall_s(left or last, resumed))
        for left, last, resumed in _taken_up(journal)
    ]


def worked_s(journal: ReadJournal) -> float:
    """Monotonic seconds between neighbouring events, without absences and restarts."""
    away = {id(last) for _, last, resumed in _taken_up(journal) if resumed}
    spans = (
        mono_s(before, after)
        for before, after in pairwise(journal.entries)
        if not isinstance(before.body, v.JobLeft) and id(before) not in away
    )
    return round(sum(span for span in spans if span is not None and span > 0), 6)


def _taken_up(journal: ReadJournal) -> Iterator[tuple[_Event, _Event, _Event]]:
    """When the job was left, the last event before it was taken up, and the taking up; a leaving
    that nothing followed is the last."""
    left = last = None
    for entry in journal.entries:
        if isinstance(entry.body, v.JobResumed):
            yield left, last, entry
            left = None
        elif isinstance(entry.body, v.JobLeft):
            left = entry
        if not isinstance(entry.body, _ON_RESUMING):
            last = entry
    if left:
        yield left, last, None
