"""What is read aloud: the step, its cautions, what is owed, the time left, and results.

Pure; plain sentences. The same sentences stand on the screen. A step that is entered is
told in short, since nobody listens to half a minute with tools in hand.
"""

from collections.abc import Iterable

from evidence_app.job.rules.owed import owed_now, seconds_in_words
from evidence_app.job.rules.route import cautions_of, items_of, step_named, steps_of
from evidence_app.job.speech.named import ITEMS, checked, key_words
from evidence_app.job.state.job_state import JobState
from evidence_app.record.event import Event, Instant
from evidence_app.sentence import Sentence, counted, joined, sentence, verbatim
from evidence_app.steplist.model import Caution, Signal, Step, StepList
from evidence_app.voice.understanding.grammar import Allowed
from evidence_app.voice.understanding.words import ENGLISH, Lexicon


def aloud(action: str, step_list: StepList, state: JobState, now: Instant) -> Sentence:
    """The text for "read-step", "read-cautions", "owed" or "time-left", and "step-entered"
    for the short form."""
    match action:
        case "step-entered":
            return _in_short(step_list, state)
        case "read-step":
            return joined(" ", [*_cautions_told(step_list, state), _step(step_list, state)])
        case "read-cautions":
            told = _cautions_told(step_list, state)
            return joined(" ", told) if told else sentence("There is no caution at this step.")
        case "owed":
            told = [o.sentence for o in owed_now(step_list, state)]
            return joined(" ", told) if told else sentence("Nothing more is required.")
        case "time-left":
            return _time_left(state, now)
    raise ValueError(f"not something that is read aloud: {action}")


def to_prepare(step_list: StepList, state: JobState) -> tuple[str, Sentence]:
    """What is told before the work: the caution that is to be acknowledged, with the words to
    say back, or all items that are to be ticked, with theirs; and the name of that."""
    unread = [each for each in cautions_of(step_list, state.variant) if each.id not in state.cautions]
    if unread:
        asked = sentence("To acknowledge it, say: {phrase}.", phrase=key_words(unread[0])[0])
        return unread[0].id, joined(" ", (_caution(unread[0]), asked))
    left = [item for name, item in items_of(step_list) if (name, item.id) not in state.ticked]
    if not left:
        begin = ENGLISH.phrases["next"][0]
        return "", sentence("Nothing more is required. To begin, say: {phrase}.", phrase=begin)
    names = verbatim(" ".join(f"{item.name.rstrip('.')}." for item in left))
    each, every = checked(left[0])[0], ENGLISH.phrases["all-here"][0]
    asked = sentence("Tick each: {phrase}. Or say: {all}.", phrase=each, all=every)
    return ITEMS, joined(" ", (sentence("Have ready."), names, asked))


def help_aloud(allowed: Allowed, words: Lexicon = ENGLISH) -> Sentence:
    """One phrase for each action that is open now."""
    phrases = "; ".join(open_phrases(allowed, words))
    if allowed.reading:
        return sentence("You can say: {phrases}; or the value.", phrases=phrases)
    return sentence("You can say: {phrases}.", phrases=phrases)


def open_phrases(allowed: Allowed, words: Lexicon = ENGLISH) -> list[str]:
    """The first phrase of each action that is open now; what is open here alone comes last."""
    known = {action: ps for action, ps in words.phrases.items() if action in allowed.actions}
    return [phrases[0] for phrases in (known | allowed.own).values()]


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


def _in_short(step_list: StepList, state: JobState) -> Sentence:
    """The step's name, its gravest caution in a few words, and what is owed first."""
    step = step_named(step_list, state.step)
    if step is None:
        return sentence("The work has not begun.")
    told = [_place(step_list, state, step)]
    cautions = _cautions(step_list, state)
    if cautions:
        gravest = min(cautions, key=lambda caution: list(Signal).index(caution.signal))
        told.append(
            sentence(
                "{signal}: {avoid}.",
                signal=gravest.signal.value.capitalize(),
                avoid=gravest.avoid.strip().rstrip("."),
            )
        )
        if len(cautions) > 1:
            more = counted("{count} caution more.", "{count} cautions more.", len(cautions) - 1)
            told.append(more)
    owed = owed_now(step_list, state)
    if owed:
        told.append(owed[0].sentence)
    return joined(" ", told)


def _step(step_list: StepList, state: JobState) -> Sentence:
    step = step_named(step_list, state.step)
    if step is None:
        return sentence("The work has not begun.")
    told = (step.instruction, *(picture.shows for picture in step.pictures))
    return joined(" ", (_place(step_list, state, step), *map(verbatim, told)))


def _place(step_list: StepList, state: JobState, step: Step) -> Sentence:
    way = steps_of(step_list, state.variant)
    return sentence(
        "Step {number} of {of}. {title}.", number=way.index(step) + 1, of=len(way), title=step.title
    )


def _cautions_told(step_list: StepList, state: JobState) -> list[Sentence]:
    return [_caution(caution) for caution in _cautions(step_list, state)]


def _cautions(step_list: StepList, state: JobState) -> list[Caution]:
    """Those of the step; before the first step, all."""
    step = step_named(step_list, state.step)
    return [
        caution
        for caution in cautions_of(step_list, state.variant)
        if step is None or caution.id in step.cautions
    ]


def _caution(caution: Caution) -> Sentence:
    return sentence(
        "{signal}. {hazard}. {avoid}.",
        signal=caution.signal.value.capitalize(),
        hazard=caution.hazard.strip().rstrip("."),
        avoid=caution.avoid.strip().rstrip("."),
    )


def _time_left(state: JobState, now: Instant) -> Sentence:
    left = state.hold_remaining(now)
    if left is None:
        return sentence("No hold is running.")
    if left <= 0:
        return sentence("The hold is long enough.")
    return sentence("{time} left.", time=seconds_in_words(round(left)))
