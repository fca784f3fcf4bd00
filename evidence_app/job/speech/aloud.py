"""What is read aloud: the step, its cautions, what is owed, the time left, and results.

Pure; plain sentences. The same sentences stand on the screen.
"""

from __future__ import annotations

from collections.abc import Iterable

from evidence_app.job.rules.owed import owed_now, seconds_in_words
from evidence_app.job.rules.route import cautions_of, step_named, steps_of
from evidence_app.job.state.job_state import JobState
from evidence_app.record.event import Event, Instant
from evidence_app.steplist.model import Caution, StepList
from evidence_app.voice.understanding.grammar import Allowed
from evidence_app.voice.understanding.words import ENGLISH, Words


def aloud(action: str, step_list: StepList, state: JobState, now: Instant) -> str:
    """The text for "read-step", "read-cautions", "owed" or "time-left"."""
    match action:
        case "read-step":
            return _step(step_list, state)
        case "read-cautions":
            told = [_caution(caution) for caution in _cautions(step_list, state)]
            return " ".join(told) or "There is no caution at this step."
        case "owed":
            return " ".join(o.sentence for o in owed_now(step_list, state)) or "Nothing is owed."
        case "time-left":
            return _time_left(state, now)
    raise ValueError(f"not something that is read aloud: {action}")


def help_aloud(allowed: Allowed, words: Words = ENGLISH) -> str:
    """One phrase for each action that is open now."""
    phrases = [ps[0] for action, ps in words.phrases.items() if action in allowed.actions]
    value = "; or the value" if allowed.reading else ""
    return f"You can say: {'; '.join(phrases)}{value}."


def results_aloud(events: Iterable[Event]) -> list[str]:
    """What the photo gate and a measurement found, of the events of one command."""
    told = []
    for event in events:
        if event.kind == "photo-judged":
            failed = [check["sentence"] for check in event.body["checks"] if not check["holds"]]
            told += failed or ["The photo passes."]
        elif event.kind == "measured":
            told.append(event.body["result"]["sentence"])
    return told


def _step(step_list: StepList, state: JobState) -> str:
    step = step_named(step_list, state.step)
    if step is None:
        return "The work has not begun."
    way = steps_of(step_list, state.variant)
    return f"Step {way.index(step) + 1} of {len(way)}. {step.title}. {step.instruction}"


def _cautions(step_list: StepList, state: JobState) -> list[Caution]:
    """Those of the step; before the first step, all."""
    step = step_named(step_list, state.step)
    return [
        caution
        for caution in cautions_of(step_list, state.variant)
        if step is None or caution.id in step.cautions
    ]


def _caution(caution: Caution) -> str:
    parts = (caution.hazard.strip().rstrip("."), caution.avoid.strip().rstrip("."))
    return f"{caution.signal.value.capitalize()}. {parts[0]}. {parts[1]}."


def _time_left(state: JobState, now: Instant) -> str:
    left = state.hold_remaining(now)
    if left is None:
        return "No hold is running."
    return f"{seconds_in_words(round(left))} left." if left > 0 else "The hold is long enough."
