"""What is always to be seen: where the job stands, what is owed, what is safe."""

from collections.abc import Sequence

from msgspec import Struct

from evidence_app.job.rules.owed import owed_now
from evidence_app.job.rules.route import steps_of
from evidence_app.job.state.job_state import JobState
from evidence_app.job.vocabulary import JobOpened
from evidence_app.language import say, say_many
from evidence_app.sentence import sentences_beside
from evidence_app.steplist.model import Step, StepList

_OUTCOME = sentences_beside(__file__)["outcome"]


class Standing(Struct, frozen=True):
    """``notches`` says for each step "done", "here" or "ahead", ``long`` which of them are
    checkpoints."""

    where: str
    owed: str
    safe: str
    notches: tuple[str, ...]
    long: tuple[bool, ...]


def standing(step_list: StepList, state: JobState) -> Standing:
    way = steps_of(step_list, state.variant)
    number = _number(way, state.step)
    return Standing(
        where=where_words(step_list, state),
        owed=owed_words(step_list, state),
        safe=safe_words(state),
        notches=tuple(_notch(step.id, place, number, state) for place, step in enumerate(way, 1)),
        long=tuple(step.checkpoint is not None for step in way),
    )


def unit_words(opened: JobOpened) -> str:
    """What the job is about, in view all the time."""
    return say("Serial {serial}   ·   Claim {claim}", serial=opened.device.serial, claim=opened.claim)


def where_words(step_list: StepList, state: JobState) -> str:
    way = steps_of(step_list, state.variant)
    if state.phase == "preparing":
        return say("Before step 1 of {total}", total=len(way))
    at = say("Step {number} of {total}", number=_number(way, state.step), total=len(way))
    if state.phase == "stopped":
        return say("Stopped at: {where}", where=at)
    if state.phase == "closed":
        return say(_OUTCOME[state.outcome or "completed"])
    return at


def owed_words(step_list: StepList, state: JobState) -> str:
    owed = owed_now(step_list, state)
    if state.phase == "closed":
        return say("Nothing more is required; the job is closed")
    if not owed:
        return say("Nothing more is required here")
    return say_many("{count} item still required", "{count} items still required", len(owed))


def safe_words(state: JobState) -> str:
    photos = say_many("{count} photo", "{count} photos", len(state.photos))
    count = sum(note.heard in ("recorded", "written") for note in state.notes)
    notes = say_many("{count} note", "{count} notes", count)
    entries = say_many("{count} entry", "{count} entries", state.sequence)
    return say("Safe on disk: {entries}, {photos}, {notes}", entries=entries, photos=photos, notes=notes)


def role_words(role: str) -> str:
    return {"supervisor": say("supervisor"), "witness": say("witness")}.get(role, role.replace("-", " "))


def _notch(step: str, place: int, number: int, state: JobState) -> str:
    if place == number and state.phase == "working":
        return "here"
    # A step the work was sent back over is ahead again, although it was visited.
    return "done" if step in state.visited and place < number else "ahead"


def _number(way: Sequence[Step], step: str | None) -> int:
    """The number of a step on the way, from 1; 0 for none of them."""
    return next((number for number, each in enumerate(way, 1) if each.id == step), 0)
