"""The rules on preparing, moving from step to step, stopping and closing."""

from evidence_app.job import commands as c
from evidence_app.job import vocabulary as v
from evidence_app.job.rules.entry import line, reason, refuse
from evidence_app.job.rules.owed import Owed, owed_after_stop, owed_anywhere, owed_at, owed_before_work
from evidence_app.job.rules.route import cautions_of, items_of, neighbour, rule_of_stop, steps_of, stop_rule
from evidence_app.job.rules.situation import Situation
from evidence_app.job.state.facts import GivenFinding
from evidence_app.language import mark
from evidence_app.record.event import Draft
from evidence_app.sentence import joined, sentence, sentences_beside
from evidence_app.steplist.model import Finding, Rule

_WHY = sentences_beside(__file__)

# --- preparing ----------------------------------------------------------------


def open_ticket(at: Situation, command: c.OpenTicket) -> list[Draft]:
    if at.state.ticket is not None:
        raise at.worded(_WHY["ticket-open"])
    if at.stored is None:
        return []
    refs = at.stored.refs
    return [at.draft(v.TicketOpened(refs["ticket"], refs["signature"], **at.stored.facts))]


def acknowledge(at: Situation, command: c.AcknowledgeCaution) -> list[Draft]:
    if command.caution not in {caution.id for caution in cautions_of(at.step_list, at.state.variant)}:
        raise at.worded(_WHY["no-caution"], caution=command.caution)
    if command.caution in at.state.cautions:
        raise at.worded(_WHY["acknowledged"])
    return [at.draft(v.CautionAcknowledged(command.caution, command.said))]


def tick(at: Situation, command: c.TickItem) -> list[Draft]:
    ticked = (command.list, command.item)
    if ticked not in {(name, item.id) for name, item in items_of(at.step_list)}:
        raise at.worded(_WHY["no-item"], item=command.item, list=command.list)
    if ticked in at.state.ticked:
        raise at.worded(_WHY["ticked"])
    return [at.draft(v.ItemTicked(command.list, command.item, command.said))]


# --- moving --------------------------------------------------------------------


def go_on(at: Situation, command: c.GoOn) -> list[Draft]:
    state = at.state
    if state.step is None:
        _refuse_owed(
            at, owed_before_work(at.step_list, state), mark("work cannot begin; still required: {listed}")
        )
        first = steps_of(at.step_list, state.variant)[0]
        return [_enter(first.id, "first", None)]
    _refuse_owed(
        at, owed_at(at.step_list, state, state.step), mark("the step is not done; still required: {listed}")
    )
    following = neighbour(at.step_list, state.variant, state.step, +1)
    return [_enter(following.id, "next", state.step)] if following else []


def go_back(at: Situation, command: c.GoBack) -> list[Draft]:
    if at.state.hold is not None:
        raise at.worded(_WHY["hold-running"])
    before = neighbour(at.step_list, at.state.variant, at.state.step, -1)
    if before is None:
        raise at.worded(_WHY["first-step"])
    return [_enter(before.id, "back", at.state.step)]


def give_finding(at: Situation, command: c.GiveFinding) -> list[Draft]:
    step = at.step
    if step is None or step.checkpoint is None:
        raise at.worded(_WHY["no-finding"])
    owed = [o for o in owed_at(at.step_list, at.state, step.id) if o.kind != "finding"]
    _refuse_owed(at, tuple(owed), mark("the finding cannot be given yet; still required: {listed}"))
    standing = at.state.finding_of(step.id)
    if standing is not None and standing.finding == command.finding:
        raise at.worded(_WHY["same-finding"])
    rule = step.checkpoint.finding.rule_for(Finding(command.finding))
    leading = leads_to(rule, at.state.redos(step.id))
    given = at.draft(v.FindingGiven(command.finding, leading))
    return [given, *_consequence(at, rule, leading, step.id)]


def pending_consequence(at: Situation) -> list[Draft]:
    """The redo or stop that a finding led to, when a crash came between the two."""
    given: GivenFinding | None = at.state.pending
    step = at.step
    if given is None or step is None or step.checkpoint is None:
        return []
    rule = step.checkpoint.finding.rule_for(Finding(given.finding))
    return _consequence(at, rule, given.leads_to, step.id)


def leads_to(rule: Rule, redone: int) -> v.LeadsTo:
    """What a finding under ``rule`` leads to after so many redos at its step."""
    if rule.go_on:
        return v.LeadsTo("go-on", None, None)
    if rule.redo_from is None:
        return v.LeadsTo("stop", None, rule.stop)
    if rule.redo_limit is not None and redone >= rule.redo_limit:
        return v.LeadsTo("stop", None, rule.then_stop)
    return v.LeadsTo("redo", rule.redo_from, None)


def _consequence(at: Situation, rule: Rule, leads_to: v.LeadsTo, step: str) -> list[Draft]:
    if leads_to.action == "redo" and leads_to.step is not None:
        return [_enter(leads_to.step, "redo", step)]
    if leads_to.action == "stop" and leads_to.rule is not None:
        return [stopped(at, leads_to.rule, "redo-limit" if rule.redo_from else "finding")]
    return []


def _enter(step: str, why: v.EnteredFor, left: str | None) -> Draft:
    return Draft("step-entered", v.to_body(v.StepEntered(why, left)), step)


# --- stopping and closing ----------------------------------------------------------


def stop_repair(at: Situation, command: c.StopRepair) -> list[Draft]:
    stated = reason(command.reason, sentence("the reason for the stop"))
    return [stopped(at, at.step_list.stop_by_technician, "technician", stated)]


def stopped(at: Situation, rule_id: str, by: v.StoppedBy, stated: str | None = None) -> Draft:
    """The event that stops the repair under a rule."""
    rule = stop_rule(at.step_list, rule_id)
    if rule is None:
        raise at.worded(_WHY["no-stop-rule"], rule_id=rule_id)
    body = v.RepairStopped(rule.id, by, stated or rule.reason, rule.disposition, rule.prohibitions)
    return at.draft(body)


def give_name(at: Situation, command: c.GiveName) -> list[Draft]:
    rule = rule_of_stop(at.step_list, at.state)
    if rule is None or command.role not in rule.names:
        raise at.worded(_WHY["no-name"], role=command.role)
    return [at.draft(v.NameGiven(command.role, line(command.name, sentence("the name"))))]


def close(at: Situation, command: c.Close) -> list[Draft]:
    _refuse_open_note(at)
    state = at.state
    if state.phase == "preparing":
        raise at.worded(_WHY["not-begun"])
    if state.stop is not None:
        _refuse_owed(
            at,
            owed_after_stop(at.step_list, state),
            mark("the stopped job cannot be closed; still required: {listed}"),
        )
        return [at.draft(v.JobClosed("stopped", state.stop.reason))]
    if neighbour(at.step_list, state.variant, state.step, +1) is not None:
        raise at.worded(_WHY["not-last-step"])
    _refuse_owed(
        at, owed_anywhere(at.step_list, state), mark("the job cannot be closed; still required: {listed}")
    )
    return [at.draft(v.JobClosed("completed", None))]


def abandon(at: Situation, command: c.Abandon) -> list[Draft]:
    _refuse_open_note(at)
    stated = reason(command.reason, sentence("the reason for abandoning the job"))
    return [at.draft(v.JobClosed("abandoned", stated))]


def leave(at: Situation, command: c.Leave) -> list[Draft]:
    _refuse_open_note(at)
    return [at.draft(v.JobLeft())]


def _refuse_open_note(at: Situation) -> None:
    if at.state.open_note is not None:
        raise at.worded(_WHY["recording"])


def _refuse_owed(at: Situation, owed: tuple[Owed, ...], template: str) -> None:
    if owed:
        listed = joined(" ", (item.sentence for item in owed))
        refuse(template, "", where=at.where, listed=listed)
