"""What the `job` commands say of a job: what was recorded, where it stands, what is required."""

import click

from evidence_app.commands.shared.saying import tell_user
from evidence_app.job.rules.owed import OWED_WORDS, Owed
from evidence_app.job.running.guide import Job
from evidence_app.job.state.job_state import JobState
from evidence_app.language import reworded, say
from evidence_app.record.event import Event
from evidence_app.sentence import Sentence, sentence, sentences_beside
from evidence_app.steplist.model import StepList
from evidence_app.steplist.show import caution_lines

PHASES = sentences_beside(__file__)["phases"]


def say_cautions(guide: Job, *named: str) -> None:
    for caution in guide.step_list.cautions:
        if caution.id in named:
            click.echo("\n".join(caution_lines(caution)))


def detail(event: Event) -> str:
    body = event.body
    if event.kind == "photo-taken":
        return f" {body['photo']['sha256'][:12]}"
    if event.kind == "photo-judged":
        failing = [reworded(check) for check in body["checks"] if not check["holds"]]
        return " " + (say("passes") if body["passes"] else say("does not pass") + ". " + " ".join(failing))
    if event.kind == "step-entered":
        return f" {event.step}"
    if event.kind == "repair-stopped":
        return f" {body['rule']}. {body['disposition']} {' '.join(body['prohibitions'])}"
    if event.kind == "measured":
        return f" {reworded(body['result'])}"
    return ""


def say_standing(guide: Job) -> None:
    step = guide.step
    if guide.state.phase == "working" and step is not None:
        number = [s.id for s in guide.steps].index(step.id) + 1
        place = say("step {number} of {count}", number=number, count=len(guide.steps))
        click.echo(f"{place}, {step.id}: {step.instruction}")
    for owed in guide.owed:
        say_owed(owed)
    for advice in guide.advice:
        tell_user(sentence("note: {what}", what=reworded(advice.result)))
    if guide.ready:
        tell_user("nothing more is required: the job can be closed")


def say_owed(owed: Owed) -> None:
    named = " ".join(filter(None, (say(OWED_WORDS[owed.kind]), owed.id)))
    tell_user(sentence("owed: {named}: {what}", named=named, what=owed.sentence))


def say_damage(found: tuple[Sentence, ...]) -> None:
    for damage in found:
        tell_user(
            "damaged: {what}. Look for it in set-aside/ or in a copy of the job's folder.",
            what=say(damage),
            err=True,
        )


def whose(step_list: StepList, state: JobState) -> str:
    """What is repaired and for which claim, in one line."""
    opened = state.opened
    if opened is None:
        return step_list.title
    named = {"serial": opened.device.serial, "claim": opened.claim}
    return step_list.title + say(", serial {serial}, claim {claim}", **named)
