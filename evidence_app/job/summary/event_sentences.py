"""One plain sentence for each event, and for the outcome.

A sentence says what the journal says, quoting people's words as they gave them;
where a body lacks something the sentence says "not stated".
"""

from __future__ import annotations

from collections.abc import Callable

from evidence_app.job.summary.untrusted import (
    as_json,
    flag,
    number,
    original,
    rows,
    table,
    text,
    texts,
)
from evidence_app.record.event import Event
from evidence_app.steplist.model import StepList

_LONGEST_UNKNOWN = 400

FINDINGS = {"clear": "clear", "not-clear": "not clear", "cannot-tell": "cannot tell"}
ENTERED = {
    "first": "Began with step {}",
    "next": "Went on to step {}",
    "back": "Went back to look at step {}",
    "redo": "Work sent back: step {} is done again",
    "resumed": "Took the work up again at step {}",
}
SOURCES = {
    "camera": "camera",
    "stream": "network camera",
    "folder": "watched folder",
    "file": "file",
    "practice": "practice camera (rendered)",
}
STOPPED_BY = {
    "finding": "by a finding",
    "technician": "by the technician",
    "redo-limit": "because the work had been done again as often as allowed",
}
OUTCOMES = {"completed", "stopped", "abandoned"}


class Words:
    """Turns events into sentences with the titles that the step list gives."""

    def __init__(self, step_list: StepList) -> None:
        self._titles = {step.id: step.title for step in step_list.steps}
        self._cautions = {c.id: f"{c.signal.value}: {c.hazard}" for c in step_list.cautions}
        self._items = {
            (name, item.id): item.name
            for name, items in (
                ("tools", step_list.tools),
                ("consumables", step_list.consumables),
                ("new-parts", step_list.new_parts),
            )
            for item in items
        }
        wanted = [photo for rule in step_list.stop_rules for photo in rule.photos]
        wanted += [p for s in step_list.steps if s.checkpoint for p in s.checkpoint.photos]
        self._framings = {photo.id: photo.framing for photo in wanted}
        self._readings = {
            (step.id, reading.id): reading.name
            for step in step_list.steps
            for reading in step.readings
        }

    def step(self, step: str | None) -> str:
        return f"“{self._titles.get(step or '', step or 'no step')}”"

    def sentence(self, event: Event) -> str:
        say = _SENTENCES.get(event.kind)
        if say is None:
            content = as_json(event.body)
            cut = "…" if len(content) > _LONGEST_UNKNOWN else ""
            return (
                f"An event of the unknown kind “{event.kind}”, with the content "
                f"{content[:_LONGEST_UNKNOWN]}{cut}"
            )
        return say(self, event)

    # --- opening and preparing -----------------------------------------------------

    def _opened(self, e: Event) -> str:
        device = table(e.body, "device")
        return (
            f"Job opened by {_given(e, 'technician')} for claim {_given(e, 'claim')}: "
            f"{text(device, 'model') or 'device'}, serial {text(device, 'serial') or 'not stated'}."
        )

    def _ticket(self, e: Event) -> str:
        return f"Depot ticket opened, issued {_given(e, 'issued_at')} by {_given(e, 'depot')}."

    def _caution(self, e: Event) -> str:
        caution = text(e.body, "caution") or ""
        return f"Caution acknowledged: {self._cautions.get(caution, caution)}"

    def _ticked(self, e: Event) -> str:
        listed, item = text(e.body, "list") or "", text(e.body, "item") or ""
        kind = {"tools": "Tool", "consumables": "Consumable", "new-parts": "New part"}.get(listed)
        return f"{kind or 'Item'} ticked: {self._items.get((listed, item), item)}"

    # --- moving ----------------------------------------------------------------------

    def _entered(self, e: Event) -> str:
        pattern = ENTERED.get(text(e.body, "reason") or "", "Entered step {}")
        return f"{pattern.format(self.step(e.step))}."

    def _finding(self, e: Event) -> str:
        leads_to = table(e.body, "leads_to")
        given = text(e.body, "finding") or "not stated"
        then = {
            "go-on": "the work goes on",
            "redo": f"the work is sent back to {self.step(text(leads_to, 'step'))}",
            "stop": "the repair is stopped",
        }.get(text(leads_to, "action") or "", "what follows is not stated")
        return f"Finding at {self.step(e.step)}: {FINDINGS.get(given, given)}; {then}."

    def _stopped(self, e: Event) -> str:
        by = STOPPED_BY.get(text(e.body, "by") or "", "")
        return (
            f"Repair stopped {by}: {_bare(_given(e, 'reason'))}. "
            f"Disposition: {_bare(_given(e, 'disposition'))}."
        )

    def _named(self, e: Event) -> str:
        return f"Name given for {_given(e, 'role').replace('-', ' ')}: {_given(e, 'name')}."

    # --- what was shown ----------------------------------------------------------------

    def _photo(self, e: Event) -> str:
        source = table(e.body, "source")
        kind = text(source, "kind") or "a source not stated"
        wanted = text(e.body, "wanted")
        what = f"of “{_bare(self._framings.get(wanted, wanted))}”" if wanted else "as a note"
        again = ", another take" if text(e.body, "retake_of") else ""
        return f"Photo taken {what}{again}, from {SOURCES.get(kind, kind)}."

    def _judged(self, e: Event) -> str:
        if flag(e.body, "passes"):
            return "The photo passes every check at capture."
        failing = [
            text(row, "sentence") or text(row, "name") or ""
            for row in rows(e.body, "checks")
            if flag(row, "holds") is False
        ]
        return " ".join(["The photo does not pass.", *failing])

    def _kept(self, e: Event) -> str:
        return f"The photo is kept all the same. Reason given: “{_given(e, 'reason')}”"

    def _measured(self, e: Event) -> str:
        result = table(e.body, "result")
        said = (
            text(result, "sentence") or f"conformity {text(result, 'conformity') or 'not stated'}"
        )
        return f"Measured {text(result, 'kind') or ''} (advice): {_bare(said)}."

    def _hold_started(self, e: Event) -> str:
        return f"Hold begun, at least {seconds(number(e.body, 'at_least_s'))}."

    def _hold_ended(self, e: Event) -> str:
        met = flag(e.body, "met")
        early = text(e.body, "reason") == "too-long"
        verdict = "long enough" if met else "longer than allowed" if early else "too short"
        return f"Hold ended after {seconds(number(e.body, 'held_s'))}: {verdict}."

    def _hold_lost(self, e: Event) -> str:
        return f"Hold cannot be shown and must be begun again: {_given(e, 'reason')}."

    def _reading(self, e: Event) -> str:
        reading = text(e.body, "reading") or ""
        name = self._readings.get((e.step or "", reading), reading)
        unit = text(e.body, "unit")
        within = {True: ", within its limits", False: ", OUTSIDE its limits"}
        verdict = within.get(flag(e.body, "within"), "")
        how = text(e.body, "entered_by")
        value = f"{_given(e, 'value')} {unit}" if unit else _given(e, "value")
        return f"Reading {_bare(name)}: {value}{verdict}{f' ({how})' if how else ''}."

    # --- notes, devices, corrections -------------------------------------------------------

    def _note_started(self, e: Event) -> str:
        return f"Spoken note {_given(e, 'note')} begun."

    def _note_recorded(self, e: Event) -> str:
        cut = ", cut short" if flag(e.body, "cut_short") else ""
        lost = number(e.body, "dropouts")
        gaps = f", {plain(lost)} gap{'' if lost == 1 else 's'} in the sound" if lost else ""
        stored = "" if original(e.body, "audio") else ", its sound is not named"
        length = seconds(number(e.body, "seconds"))
        return f"Spoken note {_given(e, 'note')} recorded, {length}{cut}{gaps}{stored}."

    def _note_lost(self, e: Event) -> str:
        return f"Spoken note {_given(e, 'note')} has no sound: {_bare(_given(e, 'reason'))}."

    def _note_written(self, e: Event) -> str:
        return f"Note written: “{_given(e, 'text')}”"

    def _transcript(self, e: Event) -> str:
        engine = table(e.body, "engine")
        return (
            f"Transcript of {_given(e, 'note')} made by {text(engine, 'name') or 'an engine'} "
            f"{text(engine, 'version') or ''}: “{text(e.body, 'text') or ''}”"
        )

    def _transcript_corrected(self, e: Event) -> str:
        return f"Transcript of {_given(e, 'note')} corrected: “{text(e.body, 'text') or ''}”"

    def _corrected(self, e: Event) -> str:
        return f"Correction of event {_given(e, 'of')}: “{_given(e, 'text')}”"

    def _taken_back(self, e: Event) -> str:
        return f"Event {_given(e, 'of')} taken back."

    def _device_lost(self, e: Event) -> str:
        return f"Lost the {_given(e, 'device')} {_given(e, 'name')}: {_bare(_given(e, 'message'))}."

    def _device_returned(self, e: Event) -> str:
        away = seconds(number(e.body, "away_s"))
        return f"The {_given(e, 'device')} {_given(e, 'name')} is back after {away}."

    # --- clocks, interruptions, the end ----------------------------------------------------

    def _clock(self, e: Event) -> str:
        return clock_sentence(number(e.body, "by_s"), bool(flag(e.body, "earlier")))

    def _restarted(self, e: Event) -> str:
        return RESTARTED

    def _recovered(self, e: Event) -> str:
        aside, finished = texts(e.body, "set_aside"), texts(e.body, "finished")
        parts = [f"set aside {', '.join(aside)}"] if aside else []
        parts += [f"finished {', '.join(finished)}"] if finished else []
        return f"Record recovered after an interruption: {'; '.join(parts) or 'nothing to do'}."

    def _left(self, e: Event) -> str:
        return "Job left, to be taken up again later."

    def _resumed(self, e: Event) -> str:
        return f"Job taken up again at {self.step(e.step)}." if e.step else "Job taken up again."

    def _closed(self, e: Event) -> str:
        reason = text(e.body, "reason")
        why = f" Reason given: “{reason}”" if reason else ""
        return f"Job closed as {_given(e, 'outcome')}.{why}"


_SENTENCES: dict[str, Callable[[Words, Event], str]] = {
    "job-opened": Words._opened,
    "ticket-opened": Words._ticket,
    "caution-acknowledged": Words._caution,
    "item-ticked": Words._ticked,
    "step-entered": Words._entered,
    "finding-given": Words._finding,
    "repair-stopped": Words._stopped,
    "name-given": Words._named,
    "photo-taken": Words._photo,
    "photo-judged": Words._judged,
    "photo-kept": Words._kept,
    "measured": Words._measured,
    "hold-started": Words._hold_started,
    "hold-ended": Words._hold_ended,
    "hold-lost": Words._hold_lost,
    "reading-entered": Words._reading,
    "note-started": Words._note_started,
    "note-recorded": Words._note_recorded,
    "note-lost": Words._note_lost,
    "note-written": Words._note_written,
    "transcript-made": Words._transcript,
    "transcript-corrected": Words._transcript_corrected,
    "corrected": Words._corrected,
    "taken-back": Words._taken_back,
    "device-lost": Words._device_lost,
    "device-returned": Words._device_returned,
    "clock-stepped": Words._clock,
    "machine-restarted": Words._restarted,
    "record-recovered": Words._recovered,
    "job-left": Words._left,
    "job-resumed": Words._resumed,
    "job-closed": Words._closed,
}

RESTARTED = (
    "The machine was restarted; how long it was off can be read from the wall clock only, "
    "and a hold running at that moment cannot be shown."
)


def clock_sentence(by_s: float | None, earlier: bool) -> str:
    """What a step of the wall clock was; ``by_s`` is positive forwards."""
    length = seconds(None if by_s is None else abs(by_s))
    way = "back" if by_s is not None and by_s < 0 else "forward"
    tail = " It then read earlier than the event before." if earlier else ""
    return f"The wall clock was set {way} by {length} against the clock that cannot be set.{tail}"


def outcome_sentence(
    outcome: str, reason: str | None, steps: int, missing: int, kept: int, outside: int,
    last_step: str | None, stop_reason: str | None, disposition: str | None,
) -> str:  # fmt: skip
    """The outcome in plain words.

    ``kept`` photos did not pass and were kept with a reason, ``outside`` readings
    lie outside their limits; ``last_step`` is quoted already.
    """
    at = f" at step {last_step}" if last_step else ""
    why = f" Reason given: “{reason}”" if reason else ""
    gap = _counted(missing, "thing that was owed is", "things that were owed are") + " missing."
    match outcome:
        case "completed" if missing:
            said = f"The repair was closed as completed, but {gap}"
        case "completed":
            said = f"The repair was completed: everything that its {steps} steps owed was shown."
        case "stopped":
            said = (
                f"The repair was stopped{at}: {_bare(stop_reason or reason or 'not stated')}. "
                f"Disposition: {_bare(disposition or 'not stated')}."
            )
            said += f" In the record, {gap}" if missing else ""
        case "abandoned":
            said = f"The job was abandoned{at} and the repair not completed.{why}"
        case "open":
            said = f"The job is not closed; it stands{at}." if at else "The job is not closed."
        case _:
            said = f"The job was closed with the unknown outcome “{outcome}”.{why}"
    if kept:
        said += f" {_counted(kept, 'photo')} did not pass and "
        said += "was kept with a stated reason." if kept == 1 else "were kept with stated reasons."
    if outside:
        lies = "lies outside its" if outside == 1 else "lie outside their"
        said += f" {_counted(outside, 'reading')} {lies} limits."
    return said


def seconds(value: float | None) -> str:
    """Like "12.3 s", "4 min 05 s", "2 h 03 min"; "a time not stated" for None."""
    if value is None:
        return "a time not stated"
    if value < 0:
        return f"minus {seconds(-value)}"
    if value < 60:
        return f"{plain(round(value, 1))} s"
    minutes, rest = divmod(round(value), 60)
    if minutes < 60:
        return f"{minutes} min {rest:02d} s"
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes:02d} min"


def plain(value: float | str | None) -> str:
    """A number without trailing zeros, at most six significant digits."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return str(int(value)) if value == int(value) and abs(value) < 1e15 else f"{value:.6g}"
    return "not stated" if value is None else str(value)


def _counted(number: int, one: str, many: str | None = None) -> str:
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def _given(event: Event, key: str) -> str:
    return text(event.body, key) or "not stated"


def _bare(sentence: str) -> str:
    return sentence.strip().rstrip(".")
