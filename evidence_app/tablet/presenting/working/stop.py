"""A stopped repair: the rule, what is forbidden now, the disposition, what is still owed."""

from msgspec import Struct

from evidence_app.job.rules.owed import owed_after_stop
from evidence_app.job.rules.route import rule_of_stop
from evidence_app.job.state.job_state import JobState
from evidence_app.job.summary.event_sentences import STOPPED_BY
from evidence_app.language import say
from evidence_app.steplist.model import Caution, StepList
from evidence_app.tablet.presenting.working.standing import role_words
from evidence_app.tablet.presenting.working.step import Task, due_marked, photo_task, to_do
from evidence_app.writing import bare


class StopShown(Struct, frozen=True):
    """``cautions``: of every step that was entered; the unit lies as it was left, so they hold."""

    reason: str
    by: str
    disposition: str
    prohibitions: tuple[str, ...]
    cautions: tuple[Caution, ...]
    tasks: tuple[Task, ...]
    main: tuple[str, str]


def stop_shown(step_list: StepList, state: JobState) -> StopShown:
    stop = state.stop
    assert stop is not None
    met = {c for step in step_list.steps if step.id in state.visited for c in step.cautions}
    tasks = _tasks(step_list, state)
    due = next((t for t in tasks if t.state in ("next", "open")), None)
    main = to_do(due) if due is not None else ("close", say("Close the stopped job"))
    return StopShown(
        reason=stop.reason,
        by=say(STOPPED_BY[stop.by]),
        disposition=stop.disposition,
        prohibitions=stop.prohibitions,
        cautions=tuple(c for c in step_list.cautions if c.id in met),
        tasks=tasks,
        main=main,
    )


def _tasks(step_list: StepList, state: JobState) -> tuple[Task, ...]:
    rule = rule_of_stop(step_list, state)
    if rule is None:
        return ()
    kinds = {(o.kind, o.id) for o in owed_after_stop(step_list, state)}
    tasks = [photo_task(bare(w.framing), w.id, state.photo_of_reason(w.id)) for w in rule.photos]
    if rule.spoken_reason:
        stands, said = "done", say("recorded")
        if ("spoken-reason", None) in kinds:
            stands, said = "owed", say("required")
        tasks.append(Task("note", None, say("The reason, spoken in a note"), stands, said, "note"))
    for role in rule.names:
        given = state.name_of(role)
        words = say("Name of the {role}", role=role_words(role))
        tasks.append(
            Task("name", role, words, "done" if given else "owed", given or say("required"), f"name {role}")
        )
    return due_marked(tasks, next((t for t in tasks if t.state in ("owed", "open")), None))
