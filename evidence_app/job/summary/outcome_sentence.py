"""How a job ended, in plain words."""

from collections.abc import Sequence

from evidence_app.job.summary.event_sentences import bare, places, reason_given
from evidence_app.job.summary.model import LedgerRecord, StepRecord, StopRecord, Totals
from evidence_app.sentence import Sentence, counted, joined, sentence, sentences_beside

_ENDED = sentences_beside(__file__)


def outcome_sentence(
    outcome: str,
    reason: str | None,
    steps: Sequence[StepRecord],
    last: StepRecord | None,
    stop: StopRecord | None,
    totals: Totals,
    ledger: Sequence[LedgerRecord],
) -> Sentence:
    """``last`` is the step at which the job stopped or stands."""
    values = {
        "missing": _missing(totals.missing),
        "steps": totals.steps,
        "place": _place(last, totals.steps) if last else None,
        "reason": bare((stop and stop.reason) or reason or "") or sentence("not stated"),
        "disposition": bare((stop and stop.disposition) or "") or sentence("not stated"),
    }
    known = bool(totals.missing) if outcome == "completed" else last is not None
    template = _ENDED[outcome][str(known).lower()].template
    parts = [Sentence(template, tuple((name, values[name]) for name in places(template)))]
    if outcome == "stopped" and totals.missing:
        parts.append(sentence("In the record, {missing}", missing=_missing(totals.missing)))
    if reason and outcome == "abandoned":
        parts.append(reason_given(reason))
    owed = [due for step in steps for due in step.owed] + list(stop.owed if stop else ())
    tallies = (
        counted(
            "{count} photo did not pass and was kept with a stated reason.",
            "{count} photos did not pass and were kept with stated reasons.",
            sum(due.state == "kept" for due in owed),
        ),
        counted(
            "{count} reading lies outside its limits.",
            "{count} readings lie outside their limits.",
            totals.readings_outside,
        ),
        counted(
            "{count} count differs from the step list, for a stated reason.",
            "{count} counts differ from the step list, for stated reasons.",
            sum(len(line.explained) for line in ledger),
        ),
    )
    parts += [tally for tally in tallies if tally.value("count")]
    return joined(" ", parts) if len(parts) > 1 else parts[0]


def _place(step: StepRecord, count: int) -> Sentence:
    if step.number is None:
        return sentence("“{step}”", step=step.title)
    return sentence("{number} of {steps}, “{step}”", number=step.number, steps=count, step=step.title)


def _missing(count: int) -> Sentence:
    return counted(
        "{count} thing that was owed is missing.", "{count} things that were owed are missing.",
        count,
    )  # fmt: skip
