"""Every try at a hold, every value entered and every finding given, by step.

``counts`` marks the one that answers for what was owed: the newest that stands, and for
holds only when it was held long enough.
"""

from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from decimal import Decimal, InvalidOperation
from typing import Any

from evidence_app.job import vocabulary as v
from evidence_app.job.rules.entry import within
from evidence_app.job.summary.journal import ReadJournal, TypedEvent, mono_s
from evidence_app.job.summary.model_step import FindingRecord, HoldAttempt, ReadingEntry
from evidence_app.steplist.model import Hold, Reading


def holds(journal: ReadJournal, asked: dict[str, Hold]) -> dict[str, list[HoldAttempt]]:
    """Every try at a hold, by step. ``asked`` are the step list's holds, by step.

    The time held is recomputed from ``mono_us``; what the event says of itself
    stands beside it. A try without an asked hold is measured against its own
    ``at_least_s``.
    """
    tries: dict[str, list[tuple[TypedEvent, TypedEvent | None]]] = {}
    running: dict[str, int] = {}
    for entry in journal.all_of(v.HoldStarted, v.HoldEnded, v.HoldLost):
        step = entry.step or ""
        here = tries.setdefault(step, [])
        if isinstance(entry.body, v.HoldStarted):
            here.append((entry, None))
            if entry.sequence not in journal.undone:
                running[step] = len(here) - 1
        elif entry.sequence not in journal.undone and step in running:
            at = running.pop(step)
            here[at] = (here[at][0], entry)
    return {step: _attempts(journal, here, asked.get(step)) for step, here in tries.items()}


def _attempts(
    journal: ReadJournal, tries: list[tuple[TypedEvent, TypedEvent | None]], asked: Hold | None
) -> list[HoldAttempt]:
    newest = _newest_standing(journal, [start for start, _ in tries])
    shown = []
    for start, end in tries:
        ended = end.body if end and isinstance(end.body, v.HoldEnded) else None
        held = mono_s(start, end) if end and ended else None
        met = _held_long_enough(held, start.body, asked)
        shown.append(
            HoldAttempt(
                started=start.sequence,
                wall=start.wall,
                ended=end.sequence if end else None,
                round=journal.round_of(start),
                held_s=held,
                recorded_s=ended.held_s if ended else None,
                met=met,
                recorded_met=ended.met if ended else None,
                lost_reason=end.body.reason if end and not ended else None,
                counts=met and start.sequence == newest and not journal.is_void(start),
                taken_back=start.sequence in journal.undone,
            )
        )
    return shown


def _held_long_enough(held: float | None, start: v.HoldStarted, asked: Hold | None) -> bool:
    at_least = asked.at_least_s if asked else start.at_least_s
    if held is None or held < at_least:
        return False
    return asked is None or asked.at_most_s is None or held <= asked.at_most_s


def readings(
    journal: ReadJournal, asked: dict[tuple[str, str], Reading]
) -> dict[str, dict[str, list[ReadingEntry]]]:
    """Every value entered, by step and then by reading. ``asked`` are the step list's readings."""
    found: dict[str, dict[str, list[ReadingEntry]]] = {}
    entered = _grouped(
        journal.all_of(v.ReadingEntered), lambda entry: (entry.step or "", entry.body.reading)
    )
    for (step, reading), here in entered.items():
        values = _values(journal, here, asked.get((step, reading)))
        found.setdefault(step, {})[reading] = values
    return found


def _values(
    journal: ReadJournal, entered: Sequence[TypedEvent], asked: Reading | None
) -> list[ReadingEntry]:
    newest = _newest_standing(journal, entered)
    return [
        ReadingEntry(
            **entry.at,
            value=entry.body.value,
            unit=entry.body.unit,
            within=_within(entry.body.value, asked),
            recorded_within=entry.body.within,
            entered_by=entry.body.entered_by,
            round=journal.round_of(entry),
            counts=entry.sequence == newest and not journal.is_void(entry),
            taken_back=entry.sequence in journal.undone,
        )
        for entry in entered
    ]


def _within(value: str, asked: Reading | None) -> bool | None:
    """Whether a decimal text lies within the limits; None without limits or number."""
    with suppress(InvalidOperation):
        if asked is not None and not asked.text and Decimal(value).is_finite():
            return within(value, asked)
    return None


def findings(journal: ReadJournal) -> dict[str, list[FindingRecord]]:
    """Every finding, by step. One counts until something is shown after it at its step."""
    last_shown: dict[str | None, int] = {}
    for entry in journal.of(v.PhotoTaken, v.HoldStarted, v.HoldEnded, v.ReadingEntered):
        if not isinstance(entry.body, v.PhotoTaken) or entry.body.wanted is not None:
            last_shown[entry.step] = entry.sequence
    newest = {entry.step: entry.sequence for entry in journal.of(v.FindingGiven)}

    def shown(entry: TypedEvent) -> FindingRecord:
        given: v.FindingGiven = entry.body
        # Photos of a stop's reason come after its finding and do not put it in question.
        stopped = journal.stop is not None and entry.sequence == journal.stop.sequence - 1
        covers = stopped or entry.sequence > last_shown.get(entry.step, 0)
        return FindingRecord(
            **entry.at,
            step=entry.step,
            finding=given.finding,
            action=given.leads_to.action,
            to_step=given.leads_to.step,
            rule=given.leads_to.rule,
            round=journal.round_of(entry),
            counts=newest.get(entry.step) == entry.sequence and covers and not journal.is_void(entry),
            taken_back=entry.sequence in journal.undone,
        )

    given = _grouped(journal.all_of(v.FindingGiven), lambda entry: entry.step or "")
    return {step: [shown(entry) for entry in here] for step, here in given.items()}


def _grouped(
    entries: Iterable[TypedEvent], key: Callable[[TypedEvent], Any]
) -> dict[Any, list[TypedEvent]]:
    groups: dict[Any, list[TypedEvent]] = {}
    for entry in entries:
        groups.setdefault(key(entry), []).append(entry)
    return groups


def _newest_standing(journal: ReadJournal, entries: Sequence[TypedEvent]) -> int | None:
    standing = (e.sequence for e in reversed(entries) if e.sequence not in journal.undone)
    return next(standing, None)
