"""What the report says of a step, a photo, a hold and a reading."""

from collections.abc import Iterator, Sequence

from markupsafe import Markup

from evidence_app.job.summary.event_sentences import ENTERED_BY, WITHIN, check_said, duration, plain
from evidence_app.job.summary.model import Identity, Requirement, StepRecord, Summary
from evidence_app.job.summary.model_step import HoldRecord, MeasurementRecord, PhotoRecord, ReadingEntry
from evidence_app.job.vocabulary import JudgedCheck
from evidence_app.language import reworded, say
from evidence_app.package.report.words import NOT_STATED, bare, clock_time, said, when
from evidence_app.photo.gate.check import CHECK_NAMES
from evidence_app.sentence import Sentence, counted, joined, sentence, verbatim


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


def entered(step: StepRecord) -> Sentence:
    if not step.visits:
        return sentence("not entered")
    times = sentence(
        "entered {times}", times=", ".join(clock_time(visit.wall)[:8] for visit in step.visits)
    )
    if not step.redo_count:
        return times
    again = counted("; sent back here {count} time", "; sent back here {count} times", step.redo_count)
    return joined("", (times, again))


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


Fact = tuple[Sentence, object]


def facts(summary: Summary) -> Iterator[Fact]:
    """(what, value) of the job: what was worked on, by whom, when and with what."""
    who = summary.identity
    yield sentence("Claim"), who.claim
    yield sentence("Unit"), _unit(who)
    yield sentence("Serial number"), who.serial
    yield sentence("Technician"), who.technician
    yield sentence("Opened"), when(summary.outcome.opened_at)
    yield sentence("Closed"), _closed(summary)
    yield (
        sentence("Working time"),
        sentence(
            "{time} (from the tablet's internal timer; breaks and power-off time excluded)",
            time=duration(summary.outcome.worked_s),
        ),
    )
    yield (
        sentence("Step list"),
        sentence(
            "{title}: {name}, version {version}",
            title=who.step_list_title,
            name=who.step_list_id or NOT_STATED,
            version=who.step_list_version or NOT_STATED,
        ),
    )
    yield sentence("Recorded"), _recorded(summary)
    for card in summary.scale_cards:
        yield (
            sentence("Scale card"),
            sentence(
                "{serial}, confirmed with a rule: {scale:.4f} of its printed length (standard "
                "uncertainty {u:.4f})",
                serial=card.serial,
                scale=card.scale,
                u=card.scale_u,
            ),
        )
    yield sentence("Disturbances"), _disturbances(summary)
    yield sentence("Depot ticket"), _ticket(who)
    yield sentence("Job"), who.job
    yield (
        sentence("Made with"),
        sentence(
            "evidence-app {version}, {clock} clock, {platform}",
            version=who.app or NOT_STATED,
            clock=who.clock or NOT_STATED,
            platform=who.platform or NOT_STATED,
        ),
    )


def _unit(who: Identity) -> Sentence:
    parts = [sentence("{model}", model=who.model or NOT_STATED)]
    if who.family:
        parts.append(sentence(" ({family})", family=who.family))
    if who.variant:
        parts.append(sentence(", variant {variant}", variant=who.variant))
    return joined("", parts)


def _closed(summary: Summary) -> object:
    closed = when(summary.outcome.closed_at) if summary.outcome.closed_at else said("not closed")
    if not summary.clock_notes:
        return closed
    clocks = Markup('<a href="#clocks">{}</a>').format(said("clocks"))
    return said(
        "{time}; the tablet's clock was disturbed in between, see {clocks}", time=closed, clocks=clocks
    )


def _recorded(summary: Summary) -> Sentence:
    totals = summary.totals
    return joined(
        ", ",
        (
            counted("{count} photo", "{count} photos", totals.photos),
            sentence("{count} replaced", count=totals.photos_superseded),
            sentence("{count} kept with a reason", count=totals.photos_kept),
            counted("{count} spoken note", "{count} spoken notes", totals.spoken_notes),
            counted("{count} written note", "{count} written notes", totals.written_notes),
            counted("{count} reading", "{count} readings", totals.readings),
            counted("{count} hold met", "{count} holds met", totals.holds_met),
            counted("{count} finding", "{count} findings", totals.findings),
        ),
    )


def _disturbances(summary: Summary) -> Sentence:
    totals = summary.totals
    if not (totals.clock_notes or summary.absences or totals.device_losses):
        return sentence("none in the journal")
    return joined(
        ", ",
        (
            counted(
                "{count} disturbance of the clocks", "{count} disturbances of the clocks",
                totals.clock_notes,
            ),
            counted("{count} interruption", "{count} interruptions", len(summary.absences)),
            counted(
                "{count} loss of a camera or microphone",
                "{count} losses of a camera or microphone",
                totals.device_losses,
            ),
        ),
    )  # fmt: skip


def _ticket(who: Identity) -> Sentence:
    if who.ticket is None:
        return sentence("none; nothing but the tablet's own clock says when the job was begun")
    return sentence(
        "issued {when} by {depot}, number {nonce}; this job was begun after it was issued, if "
        "its signature holds",
        when=when(who.ticket.issued_at),
        depot=who.ticket.depot,
        nonce=who.ticket.nonce,
    )
