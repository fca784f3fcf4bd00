"""What the report says of a step, a photo, a hold and a reading."""

from collections.abc import Sequence

from evidence_app.job.summary.event_sentences import ENTERED_BY, WITHIN, check_said, duration, plain
from evidence_app.job.summary.model import Requirement, StepRecord
from evidence_app.job.summary.model_step import HoldRecord, MeasurementRecord, PhotoRecord, ReadingEntry
from evidence_app.job.vocabulary import JudgedCheck
from evidence_app.language import reworded, say
from evidence_app.package.report.words import NOT_STATED, bare
from evidence_app.photo.gate.check import CHECK_NAMES
from evidence_app.sentence import Sentence, counted, sentence, verbatim


def step_heading(step: StepRecord) -> str | Sentence:
    if step.number is None:
        return sentence("{title} (not a step of this repair)", title=step.title)
    return f"{step.number}. {step.title}"


def reading_words(entry: ReadingEntry) -> Sentence:
    value = f"{entry.value} {entry.unit}" if entry.unit else entry.value
    how = ENTERED_BY.get(entry.entered_by or "", entry.entered_by or NOT_STATED)
    within = WITHIN[entry.within]
    return sentence("{value}{within} ({how})", value=value, within=within, how=how)


def photo_title(photo: PhotoRecord) -> str | Sentence:
    if photo.framing:
        return bare(photo.framing)
    if photo.wanted:
        return sentence("Photo for “{wanted}”", wanted=photo.wanted)
    return sentence("Photo added as a note")


def photo_status(photo: PhotoRecord) -> tuple[Sentence, str]:
    """What became of a take, and the shape of its mark."""
    if photo.superseded:
        return sentence("replaced by a later photo, or the step was repeated"), "not-reached"
    if photo.passes:
        return sentence("passes every check at capture"), "shown"
    if photo.kept_reason is not None:
        return sentence("kept with a stated reason"), "kept"
    if photo.passes is None:
        return sentence("not judged"), "unfinished"
    return sentence("does not pass and was not kept"), "missing"


def to_look_at(measured: MeasurementRecord) -> bool:
    """Whether a measurement found something, broke its limit or could not tell."""
    if measured.advice_only:
        return measured.value != 0
    return measured.conformity != "within"


def unsettled(owed: Requirement, photos: Sequence[PhotoRecord]) -> str | Sentence:
    takes = [p for p in photos if p.wanted == owed.id]
    newest = next((p for p in reversed(takes) if not p.superseded), None)
    if newest is not None:
        status, _ = photo_status(newest)
        return sentence("Photo {number}: {status}.", number=newest.sequence, status=status)
    if takes:
        return sentence("Taken before the work was sent back; required anew.")
    return ""


def held(hold: HoldRecord) -> Sentence:
    counting = next((a for a in hold.attempts if a.counts), None)
    asked = sentence("no minimum")
    if hold.at_least_s is not None:
        asked = sentence("at least {time}", time=duration(hold.at_least_s))
    if counting:
        time = duration(counting.held_s)
        return sentence("Held {time}; asked: {asked}", time=time, asked=asked)
    if not hold.attempts:
        return sentence("Asked: {asked}", asked=asked)
    return counted(
        "{count} try, not long enough; asked: {asked}",
        "{count} tries, none long enough; asked: {asked}",
        len(hold.attempts),
        asked=asked,
    )


def check_words(check: JudgedCheck) -> str:
    """Like "focus 2.2 (limit 3.3 px edge rise)"."""
    name = say(CHECK_NAMES.get(check.name) or verbatim(check.name))
    if check.limit is None or check.value is None:
        return name
    fine = isinstance(check.value, float) and not check.value.is_integer()
    value = f"{check.value:.2g}" if fine else plain(check.value)
    unit = say(Sentence((check.unit or "").partition(",")[0]))
    limit = f"{plain(check.limit)}{' ' if unit else ''}{unit}"
    return say("{name} {value} (limit {limit})", name=name, value=value, limit=limit)


def failing_words(check: JudgedCheck) -> str:
    """Like "focus 2.2 (limit 3.3 px edge rise): …"."""
    return ": ".join(filter(None, (check_words(check), say(check_said(check)) if check.sentence else "")))


def measured_words(measured: MeasurementRecord) -> str:
    """What was recorded of it, in the language in use where its wording was kept."""
    return reworded({"sentence": measured.sentence or "", **measured.more})
