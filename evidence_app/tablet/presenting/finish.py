"""The end of a job: what was shown for each checkpoint, where the package can go."""

from pathlib import Path

from msgspec import Struct

from evidence_app.job.rules.ledger import balance_words, ledger_of
from evidence_app.job.rules.route import steps_of
from evidence_app.job.state.job_state import JobState
from evidence_app.job.summary.event_sentences import reason_given
from evidence_app.language import say, say_many
from evidence_app.sentence import sentences_beside
from evidence_app.steplist.model import StepList
from evidence_app.steplist.walks import photos_of
from evidence_app.tablet.presenting.working.step import finding_words
from evidence_app.writing import bare

_TITLES = sentences_beside(__file__)["titles"]


class CheckpointLine(Struct, frozen=True):
    title: str
    words: str
    kept: tuple[str, ...]


class Finishing(Struct, frozen=True):
    title: str
    lead: str
    checkpoints: tuple[CheckpointLine, ...]
    outside: tuple[str, ...]


def finishing(step_list: StepList, state: JobState) -> Finishing:
    lines = []
    for step in steps_of(step_list, state.variant):
        wanted = photos_of(step)
        if not wanted or step.id not in state.visited:
            continue
        photos = [p for w in wanted if (p := state.photo_of(step.id, w.id)) is not None]
        kept = tuple(
            say("Kept with the reason: {reason}", reason=p.kept) for p in photos if p.kept is not None
        )
        lines.append(CheckpointLine(bare(step.title), _shown(state, step.id, len(photos)), kept))
    outside = tuple(
        say(
            "{name}: {value}, recorded as outside its limits",
            name=r.reading,
            value=f"{r.value} {r.unit or ''}".strip(),
        )
        for r in state.readings
        if r.within is False
    )
    if state.phase == "closed":
        title = say(_TITLES[state.outcome or "completed"])
        lead = say("Seal it now. Nothing can be added any more.")
    else:
        title = say("Nothing is missing")
        lead = say("Look it over once more. Closing ends the job; nothing can be added afterwards.")
    return Finishing(title, lead, (*lines, *ledger_lines(step_list, state)), outside)


def ledger_lines(step_list: StepList, state: JobState) -> tuple[CheckpointLine, ...]:
    """What came out of the unit and went in so far, thing by thing."""
    return tuple(
        CheckpointLine(
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


def copy_failed_words(gone: bool, full: bool, problem: str) -> str:
    """Why the copy is not on the disk, and that nothing is lost by it."""
    if gone:
        why = say("The removable disk went away before the package was whole on it.")
    elif full:
        why = say("The removable disk is full; no half package was left on it.")
    else:
        why = say("The package could not be copied to the removable disk: {problem}.", problem=problem)
    return f"{why} " + say("The package is safe on this tablet. Plug a disk in and copy it again.")
