"""The conduct check on opening, preparing, moving, findings, stopping and closing."""

from evidence_app.job import vocabulary as v
from evidence_app.job.conduct.walk import Handlers, PendingSeen, StepProgress, Walk
from evidence_app.record.event import Event
from evidence_app.sentence import joined
from evidence_app.steplist.model import Finding, Rule

# --- opening and preparing ------------------------------------------------------------


def _opened(walk: Walk, event: Event, body: v.JobOpened) -> None:
    if walk.opened is not None:
        walk.breach(event, "opens the job a second time")
        return
    walk.opened = body
    step_list, named = walk.step_list, body.step_list
    if body.format != v.FORMAT:
        walk.breach(event, "is of format {format}, known is {known}", format=body.format, known=v.FORMAT)
    if (named.id, named.version) != (step_list.id, step_list.version):
        walk.breach(
            event,
            "names the step list {name} {version}, not {expected} {its_version}",
            name=named.id,
            version=named.version,
            expected=step_list.id,
            its_version=step_list.version,
        )
    device = step_list.device
    if (body.device.family, body.device.model) != (device.family, device.model):
        walk.breach(event, "names another unit than the step list is for")
    known: list[str | None] = [variant.id for variant in device.variants] or [None]
    if body.variant not in known:
        walk.breach(
            event, "names the variant {variant}, which the step list does not have", variant=body.variant
        )
    if body.clock == "practice" and not body.practice:
        walk.breach(event, "is timed by a practice clock and not marked as practice")
    order = [s.id for s in step_list.steps if not s.variants or body.variant in s.variants]
    walk.set_out(order, body.variant)


def _must_be_preparing(walk: Walk, event: Event) -> bool:
    if walk.step is None and walk.opened is not None:
        return True
    walk.breach(event, "belongs before the first step of an opened job")
    return False


def _ticket(walk: Walk, event: Event, body: v.TicketOpened) -> None:
    _must_be_preparing(walk, event)
    if walk.ticket:
        walk.breach(event, "opens a second ticket")
    walk.ticket = True


def _cautions(walk: Walk) -> set[str]:
    return {c for s in walk.step_list.steps if s.id in walk.order for c in s.cautions}


def _items(walk: Walk) -> set[tuple[str, str]]:
    lists = {
        "tools": walk.step_list.tools,
        "consumables": walk.step_list.consumables,
        "new-parts": walk.step_list.new_parts,
    }
    return {(name, item.id) for name, items in lists.items() for item in items}


def _acknowledged(walk: Walk, event: Event, body: v.CautionAcknowledged) -> None:
    _must_be_preparing(walk, event)
    if body.caution not in _cautions(walk):
        walk.breach(
            event, "acknowledges {caution}, which is no caution of this variant", caution=body.caution
        )
    walk.cautions.add(body.caution)


def _ticked(walk: Walk, event: Event, body: v.ItemTicked) -> None:
    _must_be_preparing(walk, event)
    if (body.list, body.item) not in _items(walk):
        walk.breach(event, "ticks {item}, which is not among the {among}", item=body.item, among=body.list)
    walk.ticked.add((body.list, body.item))


# --- moving ------------------------------------------------------------------------------


def _entered(walk: Walk, event: Event, body: v.StepEntered) -> None:
    if event.step not in walk.order:
        walk.breach(event, "enters a step that this variant does not have")
        return
    if walk.pending is not None and body.reason != "redo":
        walk.breach(
            event, "follows a finding that leads elsewhere (event {number})", number=walk.pending.sequence
        )
    if body.from_ != walk.step:
        walk.breach(
            event, "says it comes from {left}; the current step is {step}", left=body.from_, step=walk.step
        )
    if walk.hold is not None and body.reason != "resumed":
        walk.breach(event, "comes while the hold of event {number} is running", number=walk.hold.sequence)
    _ENTRIES[body.reason](walk, event)
    walk.step = event.step
    walk.pending = None


def _first(walk: Walk, event: Event) -> None:
    if walk.step is not None or event.step != walk.order[0]:
        walk.breach(event, "is not the beginning of the work at the first step")
    owed = sorted(_cautions(walk) - walk.cautions)
    owed += sorted(item for _, item in _items(walk) - walk.ticked)
    if owed:
        walk.breach(event, "begins the work without {what}", what=", ".join(owed))


def _next(walk: Walk, event: Event) -> None:
    if walk.step is None or _place(walk, event.step) != _place(walk, walk.step) + 1:
        walk.breach(event, "does not follow the step {step} in the step list", step=walk.step)
    if walk.step is not None and (missing := walk.missing(walk.step)):
        walk.breach(
            event, "leaves the step {step} without {what}", step=walk.step, what=joined(", ", missing)
        )


def _back(walk: Walk, event: Event) -> None:
    if walk.step is None or _place(walk, event.step) != _place(walk, walk.step) - 1:
        walk.breach(event, "is not the step before {step}", step=walk.step)


def _redo(walk: Walk, event: Event) -> None:
    leads_to = walk.pending.leads_to if walk.pending else None
    if leads_to is None or (leads_to.action, leads_to.step) != ("redo", event.step):
        walk.breach(event, "goes back to do work again, which no finding before it leads to")
    for step in walk.order[_place(walk, event.step) :]:
        walk.shown[step] = StepProgress()


def _resumed_at(walk: Walk, event: Event) -> None:
    if event.step != walk.step:
        walk.breach(event, "resumes the job at another step than it was paused at, {step}", step=walk.step)


_ENTRIES = {"first": _first, "next": _next, "back": _back, "redo": _redo, "resumed": _resumed_at}


def _place(walk: Walk, step: str | None) -> int:
    return walk.order.index(step) if step in walk.order else -9


# --- findings and stops -------------------------------------------------------------------


def _finding(walk: Walk, event: Event, body: v.FindingGiven) -> None:
    walk.must_be_here(event)
    table = walk.table(event.step)
    if table is None or table.checkpoint is None:
        walk.breach(event, "gives a finding where the step list asks for none")
        return
    if missing := walk.missing(table.id, but_finding=True):
        walk.breach(event, "gives a finding without {what}", what=joined(", ", missing))
    for photo in walk.unmeasured(table.id):
        walk.breach(event, "comes without the measurement that the photo {photo} asks", photo=photo)
    rule = table.checkpoint.finding.rule_for(Finding(body.finding))
    due = _due(rule, walk.redos.get(table.id, 0))
    if body.leads_to != due:
        walk.breach(
            event,
            "leads to {stated}; the step list says {due}",
            stated=_words(body.leads_to),
            due=_words(due),
        )
    walk.at(table.id).go_on = due.action == "go-on"
    if due.action == "redo":
        walk.redos[table.id] = walk.redos.get(table.id, 0) + 1
    if due.action != "go-on":
        by = "redo-limit" if rule.redo_from else "finding"
        walk.pending = PendingSeen(event.sequence, event.step, due, by)


def _plain(serial: str) -> str:
    return "".join(serial.split()).casefold()


def _due(rule: Rule, redone: int) -> v.LeadsTo:
    """What the rule says follows, after ``redone`` redos of this checkpoint."""
    if rule.stop is not None:
        return v.LeadsTo("stop", None, rule.stop)
    if rule.redo_from is None:
        return v.LeadsTo("go-on", None, None)
    if rule.redo_limit is None or redone < rule.redo_limit:
        return v.LeadsTo("redo", rule.redo_from, None)
    return v.LeadsTo("stop", None, rule.then_stop)


def _words(leads_to: v.LeadsTo) -> str:
    return " ".join(part for part in (leads_to.action, leads_to.step, leads_to.rule) if part)


def _stopped(walk: Walk, event: Event, body: v.RepairStopped) -> None:
    walk.must_be_here(event)
    pending, walk.pending, walk.hold = walk.pending, None, None
    if body.by == "technician":
        due = walk.step_list.stop_by_technician if pending is None else None
    elif body.by == "count" and pending is None:
        due = body.rule if body.rule in walk.missing_piece_rules() else None
    elif pending is not None and pending.by == body.by and pending.leads_to.action == "stop":
        due = pending.leads_to.rule
    else:
        due = None
    if body.rule != due:
        walk.breach(
            event,
            "stops under {rule} by {by}, which nothing before it leads to",
            rule=body.rule,
            by=body.by,
        )
    rule = next((r for r in walk.step_list.stop_rules if r.id == body.rule), None)
    if rule is None:
        # Judged under the technician's rule, so that what follows is still looked at.
        walk.breach(event, "names the stop rule {rule}, which the step list does not have", rule=body.rule)
        fallback = walk.step_list.stop_by_technician
        rule = next(r for r in walk.step_list.stop_rules if r.id == fallback)
    elif (body.disposition, body.prohibitions) != (rule.disposition, rule.prohibitions):
        walk.breach(event, "states another disposition or other prohibitions than its stop rule")
    elif body.by != "technician" and body.reason != rule.reason:
        walk.breach(event, "states another reason than its stop rule")
    walk.stop, walk.stopped_at = rule, event.sequence


def _named(walk: Walk, event: Event, body: v.NameGiven) -> None:
    if walk.stop is None or body.role not in walk.stop.names:
        walk.breach(event, "gives the name of a {role}, which nothing asks for", role=body.role)
    if not body.name.strip():
        walk.breach(event, "gives a blank name")
        return
    walk.names.add(body.role)


def _closed(walk: Walk, event: Event, body: v.JobClosed) -> None:
    walk.closed = True
    if walk.pending is not None:
        walk.breach(
            event, "closes before what the finding of event {number} leads to", number=walk.pending.sequence
        )
    if any(note.state == "recording" for note in walk.notes.values()):
        walk.breach(event, "closes while a voice note is being recorded")
    if (body.outcome == "stopped") != (walk.stop is not None):
        if walk.stop is not None:
            walk.breach(event, "says {outcome}, although the repair was stopped", outcome=body.outcome)
        else:
            walk.breach(event, "says {outcome}, although the repair was not stopped", outcome=body.outcome)
    elif body.outcome == "stopped":
        if missing := walk.missing_reason():
            walk.breach(event, "closes the stopped job without {what}", what=joined(", ", missing))
    elif body.outcome == "completed":
        _completed(walk, event)
    elif not (body.reason or "").strip():
        walk.breach(event, "abandons the job without a reason")


def _completed(walk: Walk, event: Event) -> None:
    serial = walk.opened.device.serial if walk.opened else ""
    if walk.serial_read is not None and _plain(walk.serial_read) != _plain(serial):
        walk.breach(
            event,
            "completes the job of serial number {serial}, but {read} was read on the unit",
            serial=serial,
            read=walk.serial_read,
        )
    if not walk.order or walk.step != walk.order[-1]:
        walk.breach(event, "says completed before the last step")
    for step in walk.order:
        if missing := walk.missing(step):
            walk.breach(
                event,
                "says completed, but the step {step} lacks {what}",
                step=step,
                what=joined(", ", missing),
            )


MOVES: Handlers = {
    "job-opened": _opened,
    "ticket-opened": _ticket,
    "caution-acknowledged": _acknowledged,
    "item-ticked": _ticked,
    "step-entered": _entered,
    "finding-given": _finding,
    "repair-stopped": _stopped,
    "name-given": _named,
    "job-closed": _closed,
}
