"""The end of a job: what was recorded at each step and counted, where the package can go."""

from pathlib import Path

from msgspec import Struct

from evidence_app.errors import EvidenceError, StorageFull
from evidence_app.job.rules.ledger import balance_words, ledger_of
from evidence_app.job.rules.owed import limits_in_words
from evidence_app.job.rules.route import steps_of
from evidence_app.job.state.facts import Stop
from evidence_app.job.state.job_state import JobState
from evidence_app.job.summary.event_sentences import STOPPED_BY, reason_given
from evidence_app.language import reworded, say, say_many
from evidence_app.sentence import sentences_beside
from evidence_app.steplist.model import Step, StepList
from evidence_app.steplist.walks import photos_of
from evidence_app.tablet.presenting.working.hold import hold_limits
from evidence_app.tablet.presenting.working.step import finding_words
from evidence_app.tablet.sealing import DiskGone
from evidence_app.writing import bare, duration

_TITLES = sentences_beside(__file__)["titles"]


class ReviewLine(Struct, frozen=True):
    """``words``, a line each, and in ``kept`` what was kept, or is outside its limits, knowingly."""

    title: str
    words: str
    kept: tuple[str, ...]


class Finishing(Struct, frozen=True):
    title: str
    lead: str
    review: tuple[ReviewLine, ...]


def finishing(step_list: StepList, state: JobState) -> Finishing:
    """The stop, what was recorded at each step, and what was counted."""
    lines = [_stopped(state.stop)] if state.stop is not None else []
    for step in steps_of(step_list, state.variant):
        line = _recorded(state, step) if step.id in state.visited else None
        lines += [line] if line is not None else []
    if state.phase == "closed":
        title = say(_TITLES[state.outcome or "completed"])
        lead = say("Seal it now. Nothing can be added any more.")
    else:
        title = say("Nothing is missing")
        lead = say("Look it over once more. Closing ends the job; nothing can be added afterwards.")
    return Finishing(title, lead, (*lines, *ledger_lines(step_list, state)))


def _stopped(stop: Stop) -> ReviewLine:
    title = say("The repair is stopped {by}", by=say(STOPPED_BY[stop.by]))
    return ReviewLine(title, f"{stop.reason}\n{stop.disposition}", ())


def _recorded(state: JobState, step: Step) -> ReviewLine | None:
    """None for a step at which nothing was recorded that it asks for."""
    told, kept = [], []
    ended = state.hold_of(step.id)
    if step.hold is not None and ended is not None and ended.held_s is not None:
        told.append(
            say("Held for {time}, {limits}", time=duration(ended.held_s), limits=hold_limits(step.hold))
        )
    for reading in step.readings:
        if (given := state.reading_of(step.id, reading.id)) is not None:
            value = f"{bare(reading.name)}: {given.value} {given.unit or ''}".strip()
            limits = limits_in_words(reading)
            told.append(say("{value} ({limits})", value=value, limits=say(limits)) if limits else value)
            if given.within is False:
                kept.append(say("{value}, recorded as outside its limits", value=value))
    photos = [p for w in photos_of(step) if (p := state.photo_of(step.id, w.id)) is not None]
    told += [reworded(photo.measured.result) for photo in photos if photo.measured]
    kept += [say("Kept with the reason: {reason}", reason=p.kept) for p in photos if p.kept is not None]
    if photos or step.checkpoint is not None:
        told.append(_shown(state, step.id, len(photos)))
    return ReviewLine(bare(step.title), "\n".join(told), tuple(kept)) if told else None


def ledger_lines(step_list: StepList, state: JobState) -> tuple[ReviewLine, ...]:
    """What came out of the unit and went in so far, thing by thing."""
    return tuple(
        ReviewLine(
            line.thing.words,
            say(
                "Out: {out} of {listed_out}. In: {went_in} of {listed_in}. Difference: {balance}.",
                out=line.counted("out"), listed_out=line.listed("out"),
                went_in=line.counted("in"), listed_in=line.listed("in"),
                balance=say(balance_words(line.left_in(), line.uncounted)),
            ),
            tuple(say(reason_given(given.reason)) for given in line.standing if given.reason),
        )
        for line in ledger_of(step_list, state)
    )  # fmt: skip


def _shown(state: JobState, step: str, photos: int) -> str:
    taken = say_many("{count} photo", "{count} photos", photos)
    given = state.finding_of(step)
    if given is None:
        return say("{photos}; no finding", photos=taken)
    return say("{photos}; finding: {finding}", photos=taken, finding=finding_words(given.finding))


# --- where the package goes -----------------------------------------------------------


def progress_words(done: int, total: int) -> str:
    share = 100 * done // total if total else 100
    return say(
        "Sealing: {share} %, {done} of {total} MB",
        share=share,
        done=f"{done / 1e6:.1f}",
        total=f"{total / 1e6:.1f}",
    )


def copying_words(done: int, total: int) -> str:
    share = 100 * done // total if total else 100
    return say("Copying to the removable disk: {share} %", share=share)


def copied_words(copy: Path) -> str:
    return say(
        "A copy is on the removable disk: {path}. It was read back and is complete. Eject the disk "
        "before you unplug it.",
        path=copy,
    )


def copy_failed_words(error: EvidenceError) -> str:
    """Why the copy is not on the disk, and that nothing is lost by it."""
    if isinstance(error, DiskGone):
        why = say("The removable disk went away before the package was whole on it.")
    elif isinstance(error, StorageFull):
        why = say("The removable disk is full; no half package was left on it.")
    else:
        problem = say(error.what)
        why = say("The package could not be copied to the removable disk: {problem}.", problem=problem)
    return f"{why} " + say("The package is safe on this tablet. Plug a disk in and copy it again.")
