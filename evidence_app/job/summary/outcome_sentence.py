"""How a job ended, in plain words."""

from msgspec import Struct

from evidence_app.job.summary.event_sentences import bare, reason_given
from evidence_app.sentence import Sentence, counted, joined, sentence


class Ending(Struct, frozen=True):
    """What the sentence tells. ``step`` is the title of the last step, ``number`` its place
    among the ``steps`` of the variant; ``kept`` photos did not pass and were kept with a
    reason, ``outside`` readings lie outside their limits."""

    outcome: str
    reason: str | None
    steps: int
    missing: int
    kept: int
    outside: int
    step: str | Sentence | None
    number: int | None
    stop_reason: str | None
    disposition: str | None


def outcome_sentence(ending: Ending) -> Sentence:
    parts = [_ended(ending)]
    if ending.outcome == "stopped" and ending.missing:
        parts.append(sentence("In the record, {missing}", missing=_missing(ending.missing)))
    if ending.reason and ending.outcome == "abandoned":
        parts.append(reason_given(ending.reason))
    if ending.kept:
        parts.append(
            counted(
                "{count} photo did not pass and was kept with a stated reason.",
                "{count} photos did not pass and were kept with stated reasons.",
                ending.kept,
            )
        )
    if ending.outside:
        parts.append(
            counted(
                "{count} reading lies outside its limits.",
                "{count} readings lie outside their limits.",
                ending.outside,
            )
        )
    return joined(" ", parts) if len(parts) > 1 else parts[0]


def _ended(ending: Ending) -> Sentence:
    place = _place(ending)
    match ending.outcome:
        case "completed" if ending.missing:
            return sentence(
                "The repair was closed as completed, but {missing}", missing=_missing(ending.missing)
            )
        case "completed":
            return sentence(
                "The repair was completed: everything that its {steps} steps owed was shown.",
                steps=ending.steps,
            )
        case "stopped":
            reason = bare(ending.stop_reason or ending.reason or "") or sentence("not stated")
            disposition = bare(ending.disposition or "") or sentence("not stated")
            if place is None:
                return sentence(
                    "The repair was stopped: {reason}. Disposition: {disposition}.",
                    reason=reason,
                    disposition=disposition,
                )
            return sentence(
                "The repair was stopped at step {place}: {reason}. Disposition: {disposition}.",
                place=place,
                reason=reason,
                disposition=disposition,
            )
        case "abandoned" if place is None:
            return sentence("The job was abandoned and the repair not completed.")
        case "abandoned":
            return sentence(
                "The job was abandoned at step {place} and the repair not completed.", place=place
            )
    if place is None:
        return sentence("The job is not closed.")
    return sentence("The job is not closed; it stands at step {place}.", place=place)


def _place(ending: Ending) -> Sentence | None:
    if ending.step is None:
        return None
    if ending.number is None:
        return sentence("“{step}”", step=ending.step)
    return sentence(
        "{number} of {steps}, “{step}”", number=ending.number, steps=ending.steps, step=ending.step
    )


def _missing(count: int) -> Sentence:
    return counted(
        "{count} thing that was owed is missing.", "{count} things that were owed are missing.",
        count,
    )  # fmt: skip
