"""One plain sentence for each event: the table that the record, the report and the tablet's
look back share. A sentence says what the journal says, quoting people's words as they gave them.
"""

from evidence_app.job import vocabulary as v
from evidence_app.job.rules.route import items_of
from evidence_app.job.summary.journal import TypedEvent
from evidence_app.job.summary.open_parts import as_json, text
from evidence_app.record.event import is_number
from evidence_app.sentence import NOTHING, Sentence, counted, joined, sentence
from evidence_app.steplist.model import StepList
from evidence_app.steplist.walks import all_photos

_LONGEST_UNKNOWN = 400

FINDINGS = {
    "clear": sentence("clear"),
    "not-clear": sentence("not clear"),
    "cannot-tell": sentence("cannot tell"),
}
SOURCES = {
    "camera": sentence("camera"),
    "stream": sentence("network camera"),
    "folder": sentence("watched folder"),
    "file": sentence("file"),
    "practice": sentence("practice camera (rendered)"),
}
DEVICES = {"camera": sentence("camera"), "microphone": sentence("microphone")}
ENTERED_BY = {"typed": sentence("typed"), "spoken": sentence("spoken"), "scanned": sentence("scanned")}
WITHIN: dict[bool | None, Sentence] = {
    True: sentence(", within its limits"),
    False: sentence(", OUTSIDE its limits"),
    None: NOTHING,
}

_CONFORMITY = {
    "within": sentence("within its limits"),
    "outside": sentence("outside its limits"),
    "inconclusive": sentence("inconclusive: the uncertainty reaches over a limit"),
    "refused": sentence("not measured"),
}
_STOPPED_BY = {
    "finding": sentence("by a finding"),
    "technician": sentence("by the technician"),
    "redo-limit": sentence("because the work had been done again as often as allowed"),
}
_CLOSED = {
    "completed": sentence("Job closed as completed."),
    "stopped": sentence("Job closed as stopped."),
    "abandoned": sentence("Job closed as abandoned."),
}

RESTARTED = sentence(
    "The machine was restarted; how long it was off can be read from the wall clock only, "
    "and a hold running at that moment cannot be shown."
)


def conformity_words(conformity: str, advice_only: bool) -> Sentence | str:
    """``advice_only``: the value has no uncertainty, and so is held against no limit."""
    if advice_only and conformity == "inconclusive":
        return sentence("advice only, held against no limit")
    return _CONFORMITY.get(conformity, conformity)


class EventSentences:
    """Says events with the titles that the step list gives."""

    def __init__(self, step_list: StepList) -> None:
        self._titles = {step.id: step.title for step in step_list.steps}
        self._cautions = {c.id: f"{c.signal.value}: {c.hazard}" for c in step_list.cautions}
        self._items = {(name, item.id): item.name for name, item in items_of(step_list)}
        self._framings = {photo.id: photo.framing for _, photo in all_photos(step_list)}
        self._readings = {
            (step.id, reading.id): reading.name for step in step_list.steps for reading in step.readings
        }

    def title(self, step: str | None) -> str | Sentence:
        return self._titles.get(step or "", step or sentence("no step"))

    def said(self, entry: TypedEvent) -> Sentence:
        for say in (self._moving, self._recorded, self._noted, self._disturbed):
            if said := say(entry.body, entry.step):
                return said
        return _unreadable(entry)

    def _moving(self, body: v.Body | None, step: str | None) -> Sentence | None:
        match body:
            case v.JobOpened():
                return sentence(
                    "Job opened by {technician} for claim {claim}: {model}, serial {serial}.",
                    technician=body.technician,
                    claim=body.claim,
                    model=body.device.model,
                    serial=body.device.serial,
                )
            case v.TicketOpened(issued_at=when, depot=depot):
                return sentence("Depot ticket opened, issued {when} by {depot}.", when=when, depot=depot)
            case v.CautionAcknowledged(caution=caution):
                caution = self._cautions.get(caution, caution)
                return sentence("Caution acknowledged: {caution}", caution=caution)
            case v.ItemTicked():
                item = self._items.get((body.list, body.item), body.item)
                return {
                    "tools": sentence("Tool ticked: {item}", item=item),
                    "consumables": sentence("Consumable ticked: {item}", item=item),
                    "new-parts": sentence("New part ticked: {item}", item=item),
                }[body.list]
            case v.StepEntered():
                title = self.title(step)
                return {
                    "first": sentence("Began with step “{step}”.", step=title),
                    "next": sentence("Went on to step “{step}”.", step=title),
                    "back": sentence("Went back to look at step “{step}”.", step=title),
                    "redo": sentence("Work sent back: step “{step}” is done again.", step=title),
                    "resumed": sentence("Took the work up again at step “{step}”.", step=title),
                }[body.reason]
            case v.FindingGiven(leads_to=leads_to):
                then = {
                    "go-on": sentence("the work goes on"),
                    "redo": sentence("the work is sent back to “{step}”", step=self.title(leads_to.step)),
                    "stop": sentence("the repair is stopped"),
                }[leads_to.action]
                return sentence(
                    "Finding at “{step}”: {finding}; {then}.",
                    step=self.title(step),
                    finding=FINDINGS[body.finding],
                    then=then,
                )
            case v.RepairStopped():
                return sentence(
                    "Repair stopped {by}: {reason}. Disposition: {disposition}.",
                    by=_STOPPED_BY[body.by],
                    reason=bare(body.reason),
                    disposition=bare(body.disposition),
                )
            case v.NameGiven(role=role, name=name):
                role = role.replace("-", " ")
                return sentence("Name given for {role}: {name}.", role=role, name=name)
            case v.JobClosed():
                closed = _CLOSED[body.outcome]
                return joined(" ", (closed, reason_given(body.reason))) if body.reason else closed
        return None

    def _recorded(self, body: v.Body | None, step: str | None) -> Sentence | None:
        match body:
            case v.PhotoTaken(wanted=wanted):
                kind = text(body.source, "kind")
                source = SOURCES.get(kind, kind) if kind else sentence("a source not stated")
                again = sentence(", another take") if body.retake_of else NOTHING
                if not wanted:
                    return sentence(
                        "Photo taken as a note{again}, from {source}.", again=again, source=source
                    )
                framing = bare(self._framings.get(wanted, wanted))
                return sentence(
                    "Photo taken of “{framing}”{again}, from {source}.",
                    framing=framing,
                    again=again,
                    source=source,
                )
            case v.PhotoJudged(passes=True):
                return sentence("The photo passes every check at capture.")
            case v.PhotoJudged():
                failing = " ".join(c.sentence or c.name for c in body.checks if not c.holds)
                if not failing:
                    return sentence("The photo does not pass.")
                return sentence("The photo does not pass. {checks}", checks=failing)
            case v.PhotoKept(reason=reason):
                return sentence("The photo is kept all the same. Reason given: “{reason}”", reason=reason)
            case v.ScaleCardNamed(serial=serial, scale=scale):
                return sentence(
                    "Scale card {serial} in use, confirmed with a rule: {scale:.4f} of its printed length.",
                    serial=serial,
                    scale=scale,
                )
            case v.Measured(result=result):
                conformity = text(result, "conformity") or sentence("not stated")
                said = text(result, "sentence")
                return sentence(
                    "Measured {kind} (advice): {result}.",
                    kind=text(result, "kind") or "",
                    result=bare(said) if said else sentence("conformity {word}", word=conformity),
                )
            case v.HoldStarted(at_least_s=at_least):
                return sentence("Hold begun, at least {time}.", time=duration(at_least))
            case v.HoldEnded(held_s=held, met=True):
                return sentence("Hold ended after {time}: long enough.", time=duration(held))
            case v.HoldEnded(held_s=held, reason="too-long"):
                return sentence("Hold ended after {time}: longer than allowed.", time=duration(held))
            case v.HoldEnded(held_s=held):
                return sentence("Hold ended after {time}: too short.", time=duration(held))
            case v.HoldLost(reason=reason):
                return sentence("Hold cannot be shown and must be begun again: {reason}.", reason=reason)
            case v.ReadingEntered(value=value, unit=unit):
                name = self._readings.get((step or "", body.reading), body.reading)
                return sentence(
                    "Reading {name}: {value}{within} ({how}).",
                    name=bare(name),
                    value=f"{value} {unit}" if unit else value,
                    within=WITHIN[body.within],
                    how=ENTERED_BY[body.entered_by],
                )
        return None

    def _noted(self, body: v.Body | None, step: str | None) -> Sentence | None:
        match body:
            case v.NoteStarted(note=note):
                return sentence("Spoken note {note} begun.", note=note)
            case v.NoteRecorded(note=note, dropouts=lost):
                gaps = counted(", {count} gap in the sound", ", {count} gaps in the sound", lost)
                return sentence(
                    "Spoken note {note} recorded, {time}{cut}{gaps}.",
                    note=note,
                    time=duration(body.seconds),
                    cut=sentence(", cut short") if body.cut_short else NOTHING,
                    gaps=gaps if lost else NOTHING,
                )
            case v.NoteLost(note=note, reason=reason):
                return sentence(
                    "Spoken note {note} has no sound: {reason}.", note=note, reason=bare(reason)
                )
            case v.NoteWritten(text=written):
                return sentence("Note written: “{text}”", text=written)
            case v.TranscriptMade(note=note, text=heard, engine=engine):
                return sentence(
                    "Transcript of {note} made by {engine} {version}: “{text}”",
                    note=note,
                    engine=engine.name,
                    version=engine.version,
                    text=heard,
                )
            case v.TranscriptCorrected(note=note, text=written):
                return sentence("Transcript of {note} corrected: “{text}”", note=note, text=written)
            case v.Corrected(of=number, text=written):
                return sentence("Correction of event {number}: “{text}”", number=number, text=written)
            case v.TakenBack(of=number):
                return sentence("Event {number} taken back.", number=number)
        return None

    def _disturbed(self, body: v.Body | None, step: str | None) -> Sentence | None:
        match body:
            case v.SourceLost(device=device, name=name, message=message):
                return sentence(
                    "Lost the {device} {name}: {message}.",
                    device=DEVICES[device],
                    name=name,
                    message=bare(message) or sentence("not stated"),
                )
            case v.SourceReturned(device=device, name=name, away_s=away):
                return sentence(
                    "The {device} {name} is back after {time}.",
                    device=DEVICES[device],
                    name=name,
                    time=duration(away),
                )
            case v.ClockStepped(by_s=by_s, earlier=earlier):
                return clock_sentence(by_s, earlier)
            case v.MachineRestarted():
                return RESTARTED
            case v.RecordRecovered(set_aside=aside, finished=finished):
                parts = [sentence("set aside {files}", files=", ".join(aside))] if aside else []
                if finished:
                    parts.append(sentence("finished {files}", files=", ".join(finished)))
                done = joined("; ", parts) if parts else sentence("nothing to do")
                return sentence("Record recovered after an interruption: {done}.", done=done)
            case v.JobLeft():
                return sentence("Job left, to be taken up again later.")
            case v.JobResumed() if step:
                return sentence("Job taken up again at “{step}”.", step=self.title(step))
            case v.JobResumed():
                return sentence("Job taken up again.")
        return None


def _unreadable(entry: TypedEvent) -> Sentence:
    content = as_json(entry.event.body)
    if len(content) > _LONGEST_UNKNOWN:
        content = f"{content[:_LONGEST_UNKNOWN]}…"
    if entry.event.kind in v.BODIES:
        return sentence(
            "An event of the kind “{kind}” that does not have its form, with the content {content}",
            kind=entry.event.kind,
            content=content,
        )
    return sentence(
        "An event of the unknown kind “{kind}”, with the content {content}",
        kind=entry.event.kind,
        content=content,
    )


def clock_sentence(by_s: float, earlier: bool) -> Sentence:
    """What a step of the wall clock was; ``by_s`` is positive forwards."""
    time = duration(abs(by_s))
    if by_s < 0:
        said = sentence(
            "The wall clock was set back by {time} against the clock that cannot be set.", time=time
        )
    else:
        said = sentence(
            "The wall clock was set forward by {time} against the clock that cannot be set.", time=time
        )
    if not earlier:
        return said
    return joined(" ", (said, sentence("It then read earlier than the event before.")))


def reason_given(reason: str) -> Sentence:
    return sentence("Reason given: “{reason}”", reason=reason)


def duration(value: float | None) -> str | Sentence:
    """Like "12.3 s", "4 min 05 s", "2 h 03 min"; "a time not stated" for None."""
    if value is None:
        return sentence("a time not stated")
    if value < 0:
        return f"minus {duration(-value)}"
    if value < 60:
        return f"{plain(round(value, 1))} s"
    minutes, rest = divmod(round(value), 60)
    if minutes < 60:
        return f"{minutes} min {rest:02d} s"
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes:02d} min"


def plain(value: float | str) -> str:
    """A number without trailing zeros, at most six significant digits."""
    if is_number(value):
        return str(int(value)) if value == int(value) and abs(value) < 1e15 else f"{value:.6g}"
    return str(value)


def bare(said: str) -> str:
    return said.strip().rstrip(".")
