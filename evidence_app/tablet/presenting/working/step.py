"""One step: its instruction, cautions, and what it asks for, one thing after the other."""

from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from evidence_app.job.rules.ledger import ledger_of
from evidence_app.job.rules.owed import owed_at
from evidence_app.job.rules.route import neighbour, step_named, steps_of
from evidence_app.job.state.facts import Photo
from evidence_app.job.state.job_state import JobState
from evidence_app.language import reworded, say
from evidence_app.record.event import Event
from evidence_app.sentence import sentences_beside
from evidence_app.steplist.model import FINDINGS, Caution, Reading, Step, StepList
from evidence_app.steplist.walks import photos_of
from evidence_app.writing import bare, duration

_WORDS = sentences_beside(__file__)


class Task(Struct, frozen=True):
    """Something the step asks for. ``state``: "owed", "next" (owed and due now), "done"
    or "open" (shown, not settled). ``action`` names what a press does. ``photo``: the SHA-256
    of the one that was taken for it."""

    kind: str
    id: str | None
    words: str
    state: str
    state_words: str
    action: str
    photo: str | None = None


class StepShown(Struct, frozen=True):
    """``main`` is the one thing to do next as (action, words)."""

    title: str
    why: str | None
    instruction: str
    cautions: tuple[Caution, ...]
    tasks: tuple[Task, ...]
    main: tuple[str, str]
    ahead: str
    can_go_back: bool


def step_shown(step_list: StepList, state: JobState, entered: Event | None, ready: bool) -> StepShown:
    """``entered`` is the event with which the step was entered."""
    step = step_named(step_list, state.step)
    assert step is not None
    tasks = tasks_at(step_list, state, step)
    due = next((task for task in tasks if task.state in ("next", "open")), None)
    following = neighbour(step_list, state.variant, step.id, +1)
    return StepShown(
        title=step.title,
        why=_why(step_list, entered),
        instruction=step.instruction,
        cautions=tuple(c for c in step_list.cautions if c.id in step.cautions),
        tasks=tasks,
        main=_main(due, following, ready),
        ahead=_ahead(step_list, state, step),
        can_go_back=neighbour(step_list, state.variant, step.id, -1) is not None and state.hold is None,
    )


def tasks_at(step_list: StepList, state: JobState, step: Step) -> tuple[Task, ...]:
    """In the order in which the step asks; the first one owed is due now."""
    owed = owed_at(step_list, state, step.id)
    due = (owed[0].kind, owed[0].id) if owed else None
    tasks = [
        *_hold_task(state, step),
        *(_reading_task(state, step, reading) for reading in step.readings),
        *_count_tasks(step_list, state, step),
        *(photo_task(bare(w.framing), w.id, state.photo_of(step.id, w.id)) for w in photos_of(step)),
        *_finding_task(state, step),
    ]
    return due_marked(tasks, next((t for t in tasks if (t.kind, t.id) == due), None))


def due_marked(tasks: Sequence[Task], due: Task | None) -> tuple[Task, ...]:
    """The one that is due now is said to be next, where nothing of it is done yet."""
    return tuple(
        replace(t, state="next", state_words=say("next")) if t is due and t.state == "owed" else t
        for t in tasks
    )


def _hold_task(state: JobState, step: Step) -> list[Task]:
    if step.hold is None:
        return []
    words = say(
        "Hold {time}: {applied}", time=duration(step.hold.at_least_s), applied=bare(step.hold.applied)
    )
    ended = state.hold_of(step.id)
    stands, said = "owed", say("required")
    if state.hold is not None and state.hold.step == step.id:
        stands, said = "open", say("running now")
    elif ended is not None and ended.met:
        stands, said = "done", say("held long enough")
    elif ended is not None:
        said = say("not held long enough; must be repeated")
    return [Task("hold", None, words, stands, said, "hold")]


def _reading_task(state: JobState, step: Step, reading: Reading) -> Task:
    action = f"reading {reading.id}"
    given = state.reading_of(step.id, reading.id)
    if given is None:
        return Task("reading", reading.id, bare(reading.name), "owed", say("required"), action)
    value = f"{given.value} {given.unit}" if given.unit else given.value
    said = say("entered: {value}", value=value)
    if given.within is False:
        said = say("entered: {value}, outside its limits", value=value)
    return Task("reading", reading.id, bare(reading.name), "done", said, action)


def _count_tasks(step_list: StepList, state: JobState, step: Step) -> Iterator[Task]:
    """One that cannot be recorded as listed is open: its number needs a reason."""
    for line in ledger_of(step_list, state):
        if here := line.at(step.id):
            asked, given = here
            what = f"{asked.listed} × {line.thing.words}"
            words = say(_WORDS["counted"][asked.goes].template, what=what)
            said = say("counted: {count}", count=given.count) if given else say("required")
            stands = "owed" if line.is_open(step.id) else "done"
            if stands == "owed" and line.needs_reason(step.id):
                stands = "open"
            yield Task("count", line.thing.id, words, stands, said, f"count {line.thing.id}")


def photo_task(framing: str, wanted: str, photo: Photo | None) -> Task:
    stands, said = _photo_stands(photo)
    words, taken = say("Photo: {framing}", framing=framing), photo.sha256 if photo else None
    return Task("photo", wanted, words, stands, said, f"photo {wanted}", taken)


def _photo_stands(photo: Photo | None) -> tuple[str, str]:
    if photo is None:
        return "owed", say("required")
    if photo.passes is None:
        return "open", say("taken, being checked")
    if not photo.settled:
        return "open", say("does not pass: retake or keep")
    said = say("taken, passes the checks") if photo.passes else say("kept with a reason")
    return "done", f"{said}\n{reworded(photo.measured.result)}" if photo.measured else said


def _finding_task(state: JobState, step: Step) -> list[Task]:
    if step.checkpoint is None:
        return []
    given = state.finding_of(step.id)
    question = step.checkpoint.question
    if given is not None and given.leads_to.action == "go-on":
        said = say("finding: {finding}", finding=finding_words(given.finding))
        return [Task("finding", None, question, "done", said, "finding")]
    return [Task("finding", None, question, "owed", say("finding required"), "finding")]


def finding_words(finding: str) -> str:
    return say(FINDINGS[finding])


def _main(due: Task | None, following: Step | None, ready: bool) -> tuple[str, str]:
    if due is not None:
        return to_do(due)
    if following is not None:
        return "next", say("Next step")
    return ("finish", say("Finish the job")) if ready else ("owed", say("See what is still required"))


def to_do(due: Task) -> tuple[str, str]:
    """What is due as an action and its words."""
    kind = f"{due.kind}-next" if due.state == "next" else due.kind
    action = f"as-listed {due.id}" if kind == "count-next" else due.action
    return action, say(_WORDS["to-do"].get(kind) or _WORDS["to-do"][due.kind])


def _ahead(step_list: StepList, state: JobState, step: Step) -> str:
    way = steps_of(step_list, state.variant)
    place = way.index(step)
    following = [bare(s.title) for s in way[place + 1 : place + 4]]
    if not following:
        return say("This is the last step.")
    return say("Ahead: {titles}", titles="  ·  ".join(following))


def _why(step_list: StepList, entered: Event | None) -> str | None:
    """Why this step is shown again, when it is."""
    body = entered.body if entered else {}
    if body.get("reason") == "redo":
        came = step_named(step_list, body.get("from"))
        title = bare(came.title) if came else ""
        return say(
            "The finding at “{title}” sent the work back here. Everything from here on must be "
            "repeated; earlier entries stay in the journal.",
            title=title,
        )
    if body.get("reason") == "back":
        return say("You are only viewing an earlier step. Everything recorded still counts.")
    return None
