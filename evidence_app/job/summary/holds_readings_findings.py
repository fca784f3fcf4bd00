"""Every try at a hold, every value entered and every finding given, by step.

``counts`` marks the one that answers for what was owed: the newest that stands, and for
holds only when it was held long enough.
"""

from collections import defaultdict
from contextlib import suppress
from decimal import Decimal, InvalidOperation

from evidence_app.job import vocabulary as v
from evidence_app.job.rules.entry import within
from evidence_app.job.summary.journal import ReadJournal, TypedEvent, grouped, mono_s
from evidence_app.job.summary.model_step import FindingRecord, HoldAttempt, ReadingEntry, carried
from evidence_app.steplist.model import Hold, Reading


def holds(journal: ReadJournal, asked: dict[str | None, Hold]) -> dict[str | None, list[HoldAttempt]]:
    """Every try at a hold, by step. ``asked`` are the step list's holds, by step.

    The time held is recomputed from ``mono_us``; what the event says of itself
    stands beside it. A try without an asked hold is measured against its own
    ``at_least_s``.
    """
    newest = journal.newest(v.HoldStarted)
    found: dict[str | None, list[HoldAttempt]] = defaultdict(list)
    for start, end in journal.paired(v.HoldStarted, v.HoldEnded, v.HoldLost):
        ended = end.body if end and isinstance(end.body, v.HoldEnded) else None
        held = mono_s(start, end) if ended else None
        met = _held_long_enough(held, start.body, asked.get(start.step))
        attempt = start.told(
            HoldAttempt,
            round=journal.round_of(start),
            ended=end.sequence if end else None,
            held_s=held,
            recorded_s=ended.held_s if ended else None,
            met=met,
            recorded_met=ended.met if ended else None,
            lost_reason=end.body.reason if end and not ended else None,
            counts=met and start.sequence in newest,
        )
        found[start.step].append(attempt)
    return found


def _held_long_enough(held: float | None, start: v.HoldStarted, asked: Hold | None) -> bool:
    at_least, at_most = (asked.at_least_s, asked.at_most_s) if asked else (start.at_least_s, None)
    return held is not None and held >= at_least and (at_most is None or held <= at_most)


def readings(
    journal: ReadJournal, asked: dict[tuple[str | None, str], Reading]
) -> dict[str | None, dict[str, list[ReadingEntry]]]:
    """Every value entered, by step and then by reading. ``asked`` are the step list's readings."""

    def of(entry: TypedEvent) -> tuple[str | None, str]:
        return entry.step, entry.body.reading

    newest = journal.newest(v.ReadingEntered, of)
    found: dict[str | None, dict[str, list[ReadingEntry]]] = defaultdict(dict)
    for entry in journal.all_of(v.ReadingEntered):
        body: v.ReadingEntered = entry.body
        shown = entry.told(
            ReadingEntry,
            within=_within(body.value, asked.get(of(entry))),
            recorded_within=body.within,
            round=journal.round_of(entry),
            counts=entry.sequence in newest,
        )
        found[entry.step].setdefault(body.reading, []).append(shown)
    return found


def _within(value: str, asked: Reading | None) -> bool | None:
    """Whether a decimal text lies within the limits; None without limits or number."""
    with suppress(InvalidOperation):
        if asked is not None and not asked.text and Decimal(value).is_finite():
            return within(value, asked)
    return None


def findings(journal: ReadJournal) -> dict[str | None, list[FindingRecord]]:
    """Every finding, by step. One counts until something is shown after it at its step."""
    last_shown: dict[str | None, int] = {}
    for entry in journal.of(v.PhotoTaken, v.HoldStarted, v.HoldEnded, v.ReadingEntered, v.PiecesCounted):
        if not isinstance(entry.body, v.PhotoTaken) or entry.body.wanted is not None:
            last_shown[entry.step] = entry.sequence
    newest = journal.newest(v.FindingGiven)

    def shown(entry: TypedEvent) -> FindingRecord:
        to: v.LeadsTo = entry.body.leads_to
        # Photos of a stop's reason come after its finding and do not put it in question.
        stopped = journal.stop is not None and entry.sequence == journal.stop.sequence - 1
        covers = stopped or entry.sequence > last_shown.get(entry.step, 0)
        counts = entry.sequence in newest and covers
        moved = {"to_step": to.step, "round": journal.round_of(entry)}
        return carried(FindingRecord, to, entry, entry.body, **moved, counts=counts)

    return grouped(map(shown, journal.all_of(v.FindingGiven)), lambda finding: finding.step)
