"""One plain sentence for each event: the table that the record, the report and the tablet's
look back share. A sentence says what the journal says, quoting people's words as they gave them.
"""

from collections.abc import Callable
from string import Formatter
from typing import Any

from evidence_app.job import vocabulary as v
from evidence_app.job.rules.route import items_of
from evidence_app.job.summary.journal import TypedEvent
from evidence_app.job.summary.open_parts import as_json, text
from evidence_app.language import mark
from evidence_app.photo.gate.check import card_sentence
from evidence_app.record.event import is_number
from evidence_app.sentence import (
    NOTHING,
    Retold,
    Sentence,
    counted,
    joined,
    recorded,
    sentence,
    sentences_beside,
    verbatim,
)
from evidence_app.steplist.kinds import kind_words
from evidence_app.steplist.model import FINDINGS, StepList
from evidence_app.steplist.walks import all_photos

_LONGEST_UNKNOWN = 400

_WORDS = sentences_beside(__file__)
OUTCOMES = _WORDS["outcomes"]
SOURCES = _WORDS["sources"]
DEVICES = _WORDS["devices"]
ENTERED_BY = _WORDS["entered-by"]
WITHIN = {True: _WORDS["within"]["true"], False: _WORDS["within"]["false"], None: NOTHING}

_CONFORMITY = _WORDS["conformity"]
STOPPED_BY = _WORDS["stopped-by"]

_LEADS_TO = _WORDS["leads-to"]


_SAID = _WORDS["said"]
RESTARTED = _SAID["machine-restarted"]

# Which of the templates of its kind says an event.
_WHICH: dict[type[v.Body], Callable[[TypedEvent], object]] = {
    v.ItemTicked: lambda entry: entry.body.list,
    v.StepEntered: lambda entry: entry.body.reason,
    v.JobClosed: lambda entry: entry.body.outcome,
    v.PhotoTaken: lambda entry: bool(entry.body.wanted),
    v.PhotoJudged: lambda entry: entry.body.passes,
    v.HoldEnded: lambda entry: "met" if entry.body.met else entry.body.reason or "early",
    v.PiecesCounted: lambda entry: entry.body.goes,
    v.JobResumed: lambda entry: bool(entry.step),
}

_BARE_REASON = (v.RepairStopped, v.NoteLost)

# How a field is said that does not stand in a sentence as it stands in the body.
_PLACES: dict[str, Callable[[Any, TypedEvent], object]] = {
    "model": lambda _, entry: entry.body.device.model,
    "serial": lambda serial, entry: serial or entry.body.device.serial,
    "reason": lambda reason, entry: bare(reason) if isinstance(entry.body, _BARE_REASON) else reason,
    "finding": lambda finding, _: FINDINGS[finding],
    "by": lambda by, _: STOPPED_BY[by],
    "disposition": lambda disposition, _: bare(disposition),
    "role": lambda role, _: role.replace("-", " "),
    "source": lambda source, _: _source(text(source, "kind")),
    "retake_of": lambda earlier, _: sentence(", another take") if earlier else NOTHING,
    "kind": lambda _, entry: kind_words(text(entry.body.result, "kind") or ""),
    "result": lambda result, _: _measured(result),
    "value": lambda value, entry: f"{value} {entry.body.unit}" if entry.body.unit else value,
    "within": lambda within, _: WITHIN[within],
    "entered_by": lambda how, _: ENTERED_BY[how],
    **dict.fromkeys(("at_least_s", "held_s", "away_s", "seconds"), lambda given, _: duration(given)),
    "cut_short": lambda cut, _: sentence(", cut short") if cut else NOTHING,
    "dropouts": lambda lost, _: counted(", {count} gap in the sound", ", {count} gaps in the sound", lost)
    if lost
    else NOTHING,
    "other": lambda other, _: sentence(", of another kind: {other}", other=bare(other))
    if other
    else NOTHING,
    "engine": lambda engine, _: f"{engine.name} {engine.version}",
    "device": lambda device, _: DEVICES[device],
    "message": lambda message, _: bare(message) or sentence("not stated"),
}


def _source(kind: str | None) -> Sentence | str:
    return SOURCES.get(kind, kind) if kind else sentence("a source not stated")


def _measured(result: dict[str, Any]) -> Sentence | str:
    if said := text(result, "sentence"):
        return recorded({**result, "sentence": bare(said)})
    return sentence("conformity {word}", word=text(result, "conformity") or sentence("not stated"))


def check_said(check: v.JudgedCheck) -> Sentence:
    """What a check of a photo says, as recorded or worded again from its fields."""
    said = check.sentence or check.name
    if check.name == "card" and is_number(check.value) and is_number(check.limit):
        return Retold(said, again=(card_sentence(round(check.value), round(check.limit), check.holds),))
    return Retold(said)


def conformity_words(conformity: str, advice_only: bool) -> Sentence | str:
    """``advice_only``: the value has no uncertainty, and so is held against no limit."""
    if advice_only and conformity == "inconclusive":
        return sentence("advice only, held against no limit")
    return _CONFORMITY.get(conformity, conformity)


class EventSentences:
    """Says events with the titles that the step list gives."""

    def __init__(self, step_list: StepList) -> None:
        self._titles = {step.id: step.title for step in step_list.steps}
        cautions = {c.id: f"{c.signal.value}: {c.hazard}" for c in step_list.cautions}
        items = {(name, item.id): item.name for name, item in items_of(step_list)}
        framings = {photo.id: photo.framing for _, photo in all_photos(step_list)}
        readings = {(s.id, reading.id): reading.name for s in step_list.steps for reading in s.readings}
        things = {thing.id: thing.words for thing in step_list.counted}
        listed = {(s.id, asked.thing): asked.listed for s in step_list.steps for asked in s.counts}
        self._places: dict[str, Callable[[Any, TypedEvent], object]] = _PLACES | {
            "step": lambda _, entry: self.title(entry.step),
            "caution": lambda caution, _: cautions.get(caution, caution),
            "item": lambda item, entry: items.get((entry.body.list, item), item),
            "wanted": lambda wanted, _: bare(framings.get(wanted) or wanted),
            "reading": lambda reading, entry: bare(readings.get((entry.step, reading)) or reading),
            "thing": lambda thing, _: things.get(thing, thing),
            "listed": lambda _, entry: listed.get((entry.step, entry.body.thing), "–"),
            "leads_to": lambda to, _: _LEADS_TO.get(to.action)
            or sentence("the work is sent back to “{step}”", step=self.title(to.step)),
        }

    def title(self, step: str | None) -> str | Sentence:
        return self._titles.get(step or "", step or sentence("no step"))

    def said(self, entry: TypedEvent) -> Sentence:
        match entry.body:
            case None:
                return _unreadable(entry)
            case v.ClockStepped(by_s=by_s, earlier=earlier):
                return clock_sentence(by_s, earlier)
            case v.RecordRecovered(set_aside=aside, finished=finished):
                parts = [sentence("set aside {files}", files=", ".join(aside))] if aside else []
                if finished:
                    parts.append(sentence("finished {files}", files=", ".join(finished)))
                done = joined("; ", parts) if parts else sentence("nothing to do")
                return sentence("Record recovered after an interruption: {done}.", done=done)
            case v.JobClosed(reason=str(reason)) | v.PiecesCounted(reason=str(reason)) if reason:
                return joined(" ", (self._by_table(entry), reason_given(reason)))
            case v.CautionAcknowledged(said=str(said)) | v.ItemTicked(said=str(said)):
                return joined(" ", (self._by_table(entry), sentence("Said: “{said}”", said=said)))
            case v.PhotoJudged(passes=False, checks=checks):
                failing = (check_said(check) for check in checks if not check.holds)
                return joined(" ", (self._by_table(entry), *failing))
        return self._by_table(entry)

    def _by_table(self, entry: TypedEvent) -> Sentence:
        said = _SAID[v.KINDS[type(entry.body)]]
        if not isinstance(said, Sentence):
            said = said[str(_WHICH[type(entry.body)](entry)).lower()]
        named = places(said.template)
        return Sentence(said.template, tuple((name, self._place(name, entry)) for name in named))

    def _place(self, name: str, entry: TypedEvent) -> object:
        """What stands in the place of a template that is named after the field ``name``."""
        value = getattr(entry.body, name, None)
        return self._places[name](value, entry) if name in self._places else value


def places(template: str) -> list[str]:
    """The names of the places of a template, in order."""
    return [name for _, name, _, _ in Formatter().parse(template) if name]


def _unreadable(entry: TypedEvent) -> Sentence:
    content = as_json(entry.raw)
    if len(content) > _LONGEST_UNKNOWN:
        content = f"{content[:_LONGEST_UNKNOWN]}…"
    form = mark("An event of the unknown kind “{kind}”, with the content {content}")
    if entry.kind in v.BODIES:
        form = mark("An event of the kind “{kind}” that does not have its form, with the content {content}")
    return Sentence(form, (("kind", entry.kind), ("content", content)))


def clock_sentence(by_s: float, earlier: bool) -> Sentence:
    """What a step of the wall clock was; ``by_s`` is positive forwards."""
    form = mark("The wall clock was set forward by {time} against the clock that cannot be set.")
    if by_s < 0:
        form = mark("The wall clock was set back by {time} against the clock that cannot be set.")
    said = Sentence(form, (("time", duration(abs(by_s))),))
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


def outcome_words(outcome: str | None) -> Sentence:
    """How a job ended; as it is where that is none of the three."""
    return OUTCOMES.get(outcome or "") or verbatim(outcome or "–")
