"""A stopped repair for the supervisor: rule, finding, photos, reason, what came after."""

from collections.abc import Iterator

from msgspec import Struct

from evidence_app.desk.countersign import DECISIONS as SIGNED
from evidence_app.desk.review import Review, Side
from evidence_app.deskpage.shown.package import finding_words, heard_words
from evidence_app.job.summary.model import StopRecord
from evidence_app.language import say, say_many
from evidence_app.package.report.words import STATES, bare, when
from evidence_app.sentence import sentence, sentences_beside

_WORDS = sentences_beside(__file__)
_BECAUSE = _WORDS["because"]
_ROLES = _WORDS["roles"]


class StopPicture(Struct, frozen=True):
    """A photo of the stop; ``beside`` are (words, path) it can be held against."""

    path: str | None
    title: str
    words: str
    beside: tuple[tuple[str, str], ...]


class Stopped(Struct, frozen=True):
    """``facts`` are (name, value), ``notes`` sentences; ``kept`` says what the record shows of the
    prohibitions, and ``broken`` whether it shows work after the stop."""

    title: str
    verdict: str
    good: bool
    because: str
    disposition: str
    facts: tuple[tuple[str, str], ...]
    prohibitions: tuple[str, ...]
    kept: str
    broken: bool
    owed: tuple[tuple[str, bool], ...]
    notes: tuple[str, ...]
    pictures: tuple[StopPicture, ...]


def stopped_of(review: Review) -> Stopped | None:
    """None for a repair that was not stopped."""
    stop, seal = review.stop, review.seal
    if stop is None:
        return None
    finding = finding_words(stop.finding)
    because = _BECAUSE.get(stop.by or "")
    return Stopped(
        title=say("Stopped repair: claim {claim}, serial {serial}", claim=seal.claim, serial=seal.serial),
        verdict=say(review.result.overall),
        good=not review.result.failed,
        because=stop.reason or "–",
        disposition=stop.disposition or "–",
        facts=tuple(
            _facts(review, stop, say(because.template, finding=finding) if because else stop.by or "–")
        ),
        prohibitions=stop.prohibitions,
        kept=_kept(stop),
        broken=bool(stop.worked_after),
        owed=tuple(
            (f"{bare(o.name)}: " + say(STATES.get(o.state, o.state)), o.state in ("shown", "kept"))
            for o in stop.owed
        ),
        notes=tuple(_spoken(note) for note in review.notes),
        pictures=tuple(_picture(side) for side in review.sides),
    )


def _facts(review: Review, stop: StopRecord, because: str):
    yield say("Rule"), f"{stop.rule or '–'}: {because}"
    yield say("At the step"), bare(stop.step_title or stop.step or "–")
    if review.step is not None and review.step.question:
        yield say("Question"), review.step.question
    for finding in review.step.findings if review.step is not None else ():
        yield (
            say("Finding"),
            say(
                "{finding}, {when} (entry {number})",
                finding=finding_words(finding.finding),
                when=when(finding.wall),
                number=finding.sequence,
            ),
        )
    yield say("Stopped"), say("{when} (entry {number})", when=when(stop.wall), number=stop.sequence)
    yield say("Technician"), review.summary.identity.technician or "–"
    for name in stop.names:
        yield (
            say(_ROLES.get(name.role or "", name.role or "–")),
            say("{name} (as given; nobody has checked it)", name=name.name or "–"),
        )
    yield say("From finding to stop"), _seconds(stop.finding_to_stop_s)
    yield say("From entering the step"), _seconds(stop.entered_to_stop_s)
    yield say("From stop to closing"), _seconds(stop.stop_to_close_s)


def _kept(stop) -> str:
    if stop.worked_after:
        return say(
            "Work was recorded on the unit after the stop: entries {numbers}.",
            numbers=", ".join(str(moment.sequence) for moment in stop.worked_after),
        )
    return say("No work was recorded on the unit after the stop. Unrecorded work would not appear here.")


def _seconds(value: float | None) -> str:
    return say("not known") if value is None else f"{value:.1f} s"


def _spoken(note) -> str:
    if note.text:
        return say("Written, entry {number}", number=note.sequence) + f": {note.text}"
    head = say("Spoken, entry {number}", number=note.sequence)
    if note.audio is not None:
        head = say("Spoken, entry {number}, {time}", number=note.sequence, time=_seconds(note.seconds))
    return f"{head}: {heard_words(note)}"


def _picture(side: Side) -> StopPicture:
    photo = side.photo
    beside = [(say("Clean reference"), side.reference)] if side.reference else []
    beside += [
        (say_many("Earlier photo", "Earlier photo {count}", number), path)
        for number, path in enumerate(side.earlier, start=1)
    ]
    title = bare(photo.framing) if photo.framing else (photo.wanted or say("A photo added as a note"))
    reason = say("Kept with a reason: {reason}", reason=photo.kept_reason) if photo.kept_reason else ""
    words = say("Entry {number}, {when}", number=photo.sequence, when=when(photo.wall))
    return StopPicture(side.path, title, f"{words}. {reason}".strip(), tuple(beside))


def signed_words(found) -> str:
    """Who countersigned what and when, or why it is not sound."""
    if found.problems:
        return say(
            "{file} is not sound: {problems}",
            file=found.path.name,
            problems="; ".join(map(say, found.problems)),
        )
    content = found.content
    head = say(
        "{name} {decision}, {when}.",
        name=content.supervisor,
        decision=say(SIGNED.get(content.decision, content.decision)),
        when=when(content.at),
    )
    reason = f" {content.reason}" if content.reason else ""
    return f"{head}{reason} ({say(found.key)})"


def lines_of(review: Review) -> Iterator[str]:
    """The review's material as plain lines, in the words of the desk's page."""
    seal, summary, stopped = review.seal, review.summary, stopped_of(review)
    yield review.package.name
    yield "  " + say(review.result.overall)
    named = {"claim": seal.claim, "serial": seal.serial, "technician": summary.identity.technician or "–"}
    step_list = f"{seal.step_list.id} {seal.step_list.version}"
    yield "  " + say(
        "claim {claim}, serial {serial}, {technician}, step list {step_list}", step_list=step_list, **named
    )
    yield "  " + say(summary.outcome.sentence)
    if stopped is None:
        yield "  " + say("This repair was not stopped by a rule.")
    else:
        yield from (f"    {line}" for line in _stop_lines(stopped))
    for note in summary.clock_notes:
        yield "  " + say(sentence("clock: {what}", what=note.sentence))
    for found in review.countersigns:
        yield "  " + say("countersign: {what}", what=signed_words(found))


def _stop_lines(stopped: Stopped) -> Iterator[str]:
    yield say("Reason: {reason}", reason=stopped.because)
    yield say("Disposition: {disposition}", disposition=stopped.disposition)
    yield from (f"{name}: {value}" for name, value in stopped.facts)
    yield from stopped.prohibitions
    yield stopped.kept
    yield from (say("required afterwards: {what}", what=what) for what, _ in stopped.owed)
    yield from stopped.notes
    for picture in stopped.pictures:
        yield f"{picture.path or '–'}: {picture.title}. {picture.words}"
        yield from (f"  {words}: {path}" for words, path in picture.beside)
