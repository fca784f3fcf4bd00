"""How a job ended, in plain words."""

from collections.abc import Sequence

from evidence_app.job.summary.event_sentences import bare, places, reason_given
from evidence_app.job.summary.model import StepRecord, StopRecord, Totals
from evidence_app.language import mark
from evidence_app.sentence import Sentence, counted, joined, sentence

# By outcome and by whether something is missing (completed) or a step is known (all others).
_ENDED = {
    ("completed", True): mark("The repair was closed as completed, but {missing}"),
    ("completed", False): mark(
        "The repair was completed: everything that its {steps} steps owed was shown."
    ),
    ("stopped", True): mark(
        "The repair was stopped at step {place}: {reason}. Disposition: {disposition}."
    ),
    ("stopped", False): mark("The repair was stopped: {reason}. Disposition: {disposition}."),
    ("abandoned", True): mark("The job was abandoned at step {place} and the repair not completed."),
    ("abandoned", False): mark("The job was abandoned and the repair not completed."),
    ("open", True): mark("The job is not closed; it stands at step {place}."),
    ("open", False): mark("The job is not closed."),
}


def outcome_sentence(
    outcome: str,
    reason: str | None,
    steps: Sequence[StepRecord],
    last: StepRecord | None,
    stop: StopRecord | None,
    totals: Totals,
) -> Sentence:
    """``last`` is the step at which the job stopped or stands."""
    values = {
        "missing": _missing(totals.missing),
        "steps": totals.steps,
        "place": _place(last, totals.steps) if last else None,
        "reason": bare((stop and stop.reason) or reason or "") or sentence("not stated"),
        "disposition": bare((stop and stop.disposition) or "") or sentence("not stated"),
    }
    template = _ENDED[outcome, bool(totals.missing) if outcome == "completed" else last is not None]
    parts = [Sentence(template, tuple((name, values[name]) for name in places(template)))]
    if outcome == "stopped" and totals.missing:
        parts.append(sentence("In the record, {missing}", missing=_missing(totals.missing)))
    if reason and outcome == "abandoned":
        parts.append(reason_given(reason))
    owed = [due for step in steps for due in step.owed] + list(stop.owed if stop else ())
    if kept := sum(due.state == "kept" for due in owed):
        parts.append(
            counted(
                "{count} photo did not pass and was kept with a stated reason.",
                "{count} photos did not pass and were kept with stated reasons.",
                kept,
            )
        )
    if totals.readings_outside:
        parts.append(
            counted(
                "{count} reading lies outside its limits.",
                "{count} readings lie outside their limits.",
                totals.readings_outside,
            )
        )
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
