"""Between the voice and the job: what may be said where the job stands, and which command
an answer is.

Pure. Actions that only the screen can carry out (photos, notes, reading aloud) have no
command here.
"""

from typing import cast

from evidence_app.job import commands as c
from evidence_app.job.rules.entry import within
from evidence_app.job.rules.owed import Owed, and_limits, owed_now
from evidence_app.job.rules.route import cautions_of, items_of, neighbour, step_named
from evidence_app.job.rules.steps import leads_to
from evidence_app.job.speech.named import ITEMS, checked, key_words, not_checked
from evidence_app.job.state.job_state import JobState
from evidence_app.job.vocabulary import ItemList
from evidence_app.record.event import Instant
from evidence_app.sentence import Sentence, sentence
from evidence_app.steplist.model import Finding, Reading, StepList
from evidence_app.voice.understanding.dialogue import Answer
from evidence_app.voice.understanding.grammar import NEITHER, Allowed, AskedReading

STOPS = sentence("That stops the repair and cannot be taken back.")
NO_HOLD = sentence("No hold is running.")
TOO_LATE = sentence("Only the newest entry can be taken back, for 5 seconds. Correct it under Entries.")
STOPPED_BY_VOICE = "The technician stopped the repair by voice."

_COUNT = "count "
"""Before the name of a counted thing whose number is said, where a reading's id stands else."""

_PLAIN = {"next": c.GoOn(), "back": c.GoBack(), "start-hold": c.StartHold(), "end-hold": c.EndHold()}
_ALWAYS = {"read-step", "read-cautions", "owed", "help", "mute"}


def allowed_now(
    step_list: StepList, state: JobState, now: Instant, *, muted: bool = False, told: str = ""
) -> Allowed:
    """What may be said now. A stop may be said whenever there is a repair to stop: also while
    a voice note is recorded, and when the person has muted the microphone. ``told``: what of
    ``aloud.to_prepare`` was last told to its end."""
    place = f"{state.phase} {state.step} {len(state.readings)} {len(state.counts)} {len(state.findings)}"
    if state.left or state.phase not in ("preparing", "working", "stopped"):
        return Allowed(place, frozenset({"unmute"} if muted else {"mute", "help"}), silent=muted)
    stop = {"stop-repair"} if state.phase != "stopped" else set()
    if muted:
        return Allowed(place, frozenset({"unmute", *stop}), silent=True)
    if state.open_note is not None:
        return Allowed(place, frozenset({"end-note", *stop}), silent=True)
    owed = owed_now(step_list, state)
    actions = {*_ALWAYS, "start-note", "leave"}
    if any(o.photo for o in owed):
        actions.add("keep-photo")
    refusals: dict[str, Sentence] = {}
    if state.can_take_back(now) is not None:
        actions.add("take-back")
    else:
        refusals["take-back"] = TOO_LATE
    if any(o.kind == "photo" for o in owed):
        actions |= {"photo", "retake"}
    if state.phase == "stopped":
        return Allowed(place, frozenset(actions), refusals=refusals)
    actions |= {"stop-repair", "abandon"}
    if owed:
        refusals["next"] = sentence("Not yet. {owed}", owed=owed[0].sentence)
    else:
        actions.add("next")
    own, near = _own(step_list, state, told)
    if state.phase == "working":
        actions |= _at_step(step_list, state, owed, refusals)
    elif own and told == ITEMS:
        actions.add("all-here")
    asked, warnings = _asked(step_list, state, owed), _warnings(step_list, state)
    return Allowed(place, frozenset(actions), asked, refusals, warnings, own=own, near=near)


def _own(
    step_list: StepList, state: JobState, told: str
) -> tuple[dict[str, tuple[str, ...]], dict[str, str]]:
    """Before the work: the words of the caution that was told, or of the items to tick; and what
    only sounds like them, as another caution's do."""
    if state.phase != "preparing":
        return {}, {}
    unread = [each for each in cautions_of(step_list, state.variant) if each.id not in state.cautions]
    if unread and unread[0].id != told:
        return {}, {}
    if unread:
        others = [key_words(each)[0] for each in step_list.cautions if each.id != told]
        return {f"acknowledge {told}": key_words(unread[0])}, dict.fromkeys(others, NEITHER)
    left = [(name, item) for name, item in items_of(step_list) if (name, item.id) not in state.ticked]
    own = {f"tick {name} {item.id}": checked(item) for name, item in left}
    return own, {said: way for _, item in left for said, way in not_checked(item).items()}


def command_of(answer: Answer, state: JobState, now: Instant) -> c.Command | None:
    """The command that an answer of kind "do" stands for; None when it is the screen's."""
    match (answer.action or "").split(" "):
        case "acknowledge", caution:
            return c.AcknowledgeCaution(caution, answer.heard)
        case "tick", name, item:
            return c.TickItem(cast(ItemList, name), item, answer.heard)
    match answer.action:
        case "clear" | "not-clear" | "cannot-tell" if answer.confirmed:
            return c.GiveFinding(answer.action)
        case "reading" if answer.confirmed and answer.value and (answer.reading or "").startswith(_COUNT):
            return c.CountPieces((answer.reading or "").removeprefix(_COUNT), int(answer.value))
        case "reading" if answer.confirmed and answer.reading and answer.value:
            return c.EnterReading(answer.reading, answer.value, "spoken", answer.outside)
        case "stop-repair" if answer.confirmed:
            return c.StopRepair(STOPPED_BY_VOICE)
        case "take-back":
            of = state.can_take_back(now)
            return c.TakeBack(of) if of is not None else None
    return _PLAIN.get(answer.action or "")


def _at_step(
    step_list: StepList, state: JobState, owed: tuple[Owed, ...], refusals: dict[str, Sentence]
) -> set[str]:
    step = step_named(step_list, state.step)
    actions = set()
    if neighbour(step_list, state.variant, state.step, -1) is not None:
        actions.add("back")
    if step is None:
        return actions
    if step.hold is not None:
        running = state.hold is not None and state.hold.step == step.id
        actions |= {"end-hold", "time-left"} if running else {"start-hold"}
    if state.hold is None:
        refusals |= dict.fromkeys(("end-hold", "time-left"), NO_HOLD)
    if step.checkpoint is not None:
        actions |= {"photo", "retake"}
        if all(o.kind == "finding" for o in owed):
            actions |= {"clear", "not-clear", "cannot-tell"}
        else:
            before = sentence("Not yet. {owed}", owed=owed[0].sentence)
            refusals |= dict.fromkeys(("clear", "not-clear", "cannot-tell"), before)
    return actions


def _warnings(step_list: StepList, state: JobState) -> dict[str, Sentence]:
    """The findings that would end the repair."""
    step = step_named(step_list, state.step)
    if step is None or step.checkpoint is None or state.phase != "working":
        return {}
    redone = state.redos(step.id)
    rules = {f.value: step.checkpoint.finding.rule_for(f) for f in Finding}
    return {name: STOPS for name, rule in rules.items() if leads_to(rule, redone).action == "stop"}


def _asked(step_list: StepList, state: JobState, owed: tuple[Owed, ...]) -> AskedReading | None:
    """The first reading or count that is owed and that nothing is owed before."""
    step = step_named(step_list, state.step)
    if not owed or step is None:
        return None
    if owed[0].kind == "count":
        what = next(thing.words for thing in step_list.counted if thing.id == owed[0].id)
        listed = next(str(count.listed) for count in step.counts if count.thing == owed[0].id)
        told = sentence("{listed} are listed; another number needs a reason, by touch.", listed=listed)
        return AskedReading(
            f"{_COUNT}{owed[0].id}", what, outside=lambda value: None if value == listed else told
        )
    if owed[0].kind != "reading":
        return None
    reading = next(r for r in step.readings if r.id == owed[0].id)
    return AskedReading(
        reading.id,
        reading.name,
        reading.unit,
        reading.decimals,
        reading.text,
        lambda value: _outside(value, reading),
    )


def _outside(value: str, reading: Reading) -> Sentence | None:
    if reading.text or within(value, reading) is not False:
        return None
    return sentence("That is outside the limits{limits}.", limits=and_limits(reading))
