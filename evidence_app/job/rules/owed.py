"""What is owed before the job may move on, and what is only advice.

Pure functions of the step list and the state. Each item names what it is about
and carries one plain sentence for the screen, the voice and the command line.
"""

from collections.abc import Iterator
from typing import Any, Literal

from msgspec import Struct

from evidence_app.job.rules.ledger import ledger_of
from evidence_app.job.rules.route import cautions_of, items_of, rule_of_stop, step_named, steps_of
from evidence_app.job.state.facts import Photo
from evidence_app.job.state.job_state import JobState
from evidence_app.job.vocabulary import ItemList
from evidence_app.sentence import NOTHING, Sentence, counted, joined, sentence, sentences_beside
from evidence_app.steplist.model import Caution, Hold, PhotoWanted, Reading, Step, StepList
from evidence_app.steplist.walks import photos_of
from evidence_app.writing import bare

Kind = Literal["caution", "item", "hold", "reading", "count", "photo", "finding", "spoken-reason", "name"]


_WORDS = sentences_beside(__file__)
OWED_WORDS = _WORDS["kinds"]
"""How each kind of what is required is called, in a job and in its summary."""


class Owed(Struct, frozen=True):
    """One thing that is owed.

    ``id`` is that of the caution, item, reading or wanted photo, the role of a
    name, None otherwise. ``step`` is where it is owed, None while preparing and
    after a stop. ``list`` belongs to items. ``photo`` is the hash of a photo
    that was taken for it and did not pass: it can be kept with a reason.
    """

    kind: Kind
    sentence: Sentence
    id: str | None = None
    step: str | None = None
    list: ItemList | None = None
    photo: str | None = None


class Advice(Struct, frozen=True):
    """Something to look at that does not hold the job up: the ``result`` of a measurement,
    whose own sentence says what it means and what to do."""

    step: str | None
    photo: str
    wanted: str
    result: dict[str, Any]


def owed_now(step_list: StepList, state: JobState) -> tuple[Owed, ...]:
    """What is owed where the job stands; in the order in which it is asked."""
    if state.phase == "preparing":
        return owed_before_work(step_list, state)
    if state.phase == "working" and state.step is not None:
        return owed_at(step_list, state, state.step)
    if state.phase == "stopped":
        return owed_after_stop(step_list, state)
    return ()


def owed_anywhere(step_list: StepList, state: JobState) -> tuple[Owed, ...]:
    """What is owed at any step of the variant, visited or not."""
    way = steps_of(step_list, state.variant)
    return tuple(owed for step in way for owed in owed_at(step_list, state, step.id))


def owed_before_work(step_list: StepList, state: JobState) -> tuple[Owed, ...]:
    cautions = [
        Owed("caution", _caution_sentence(c), id=c.id)
        for c in cautions_of(step_list, state.variant)
        if c.id not in state.cautions
    ]
    items = [
        Owed("item", _tick_sentence(name, item.name), id=item.id, list=name)
        for name, item in items_of(step_list)
        if (name, item.id) not in state.ticked
    ]
    return (*cautions, *items)


def owed_at(step_list: StepList, state: JobState, step: str) -> tuple[Owed, ...]:
    """What is owed at one step: hold, readings, counts, photos, then the finding."""
    at = step_named(step_list, step)
    if at is None:
        return ()
    owed = [*_hold(state, at, at.hold)] if at.hold else []
    for reading in at.readings:
        if state.reading_of(step, reading.id) is None:
            owed.append(Owed("reading", _reading_sentence(reading), id=reading.id, step=step))
    owed += _counts(step_list, state, at)
    for wanted in photos_of(at):
        owed += _photo(wanted, state.photo_of(step, wanted.id), step)
    if at.checkpoint is not None:
        given = state.finding_of(step)
        if given is None or given.leads_to.action != "go-on":
            asked = sentence("Give the finding: {question}", question=at.checkpoint.question)
            owed.append(Owed("finding", asked, step=step))
    return tuple(owed)


def owed_after_stop(step_list: StepList, state: JobState) -> tuple[Owed, ...]:
    """What the stop rule asks: photos of the reason, a spoken reason, names."""
    rule = rule_of_stop(step_list, state)
    if rule is None or state.stop is None:
        return ()
    owed = [o for wanted in rule.photos for o in _photo(wanted, state.photo_of_reason(wanted.id))]
    if rule.spoken_reason and not _reason_given(state, state.stop.sequence):
        owed.append(Owed("spoken-reason", sentence("Say the reason for the stop in a voice note.")))
    for role in rule.names:
        if state.name_of(role) is None:
            spoken = role.replace("-", " ")
            owed.append(Owed("name", sentence("Give the name of the {role}.", role=spoken), id=role))
    return tuple(owed)


def advice_at(step_list: StepList, state: JobState, step: str) -> tuple[Advice, ...]:
    """Measurements at a step that settle nothing or that say "outside".

    A measurement is advice: neither a missing nor a bad one holds the job up.
    """
    advice = []
    for wanted in photos_of(step_named(step_list, step)):
        photo = state.photo_of(step, wanted.id)
        if wanted.measurement is None or photo is None or photo.measured is None:
            continue
        if photo.measured.result.get("conformity") != "within":
            advice.append(Advice(step, photo.sha256, wanted.id, photo.measured.result))
    return tuple(advice)


def _hold(state: JobState, step: Step, hold: Hold) -> list[Owed]:
    time = seconds_in_words(hold.at_least_s)
    ended, applied = state.hold_of(step.id), bare(hold.applied)
    if ended is not None and ended.met:
        return []
    if state.hold is not None and state.hold.step == step.id:
        asked = sentence("Keep it held for at least {time}, then end the hold.", time=time)
    elif ended is None:
        asked = sentence("Hold for at least {time}: {applied}.", time=time, applied=applied)
    else:
        asked = sentence(
            "Hold for at least {time} again, from the beginning: {applied}.", time=time, applied=applied
        )
    return [Owed("hold", asked, step=step.id)]


def _counts(step_list: StepList, state: JobState, step: Step) -> Iterator[Owed]:
    """What is not counted, and at the last count of a thing, what does not balance."""
    for line in ledger_of(step_list, state):
        if (here := line.at(step.id)) and line.is_open(step.id):
            asked, given = here
            asking = _COUNT["unbalanced" if given else asked.goes]
            values = (("what", line.thing.words), ("listed", asked.listed))
            yield Owed("count", Sentence(asking.template, values), id=line.thing.id, step=step.id)


_COUNT = _WORDS["count"]


def _photo(wanted: PhotoWanted, photo: Photo | None, step: str | None = None) -> list[Owed]:
    failed, framing = None, bare(wanted.framing)
    if photo is None:
        asked = sentence("Take the photo: {framing}.", framing=framing)
    elif photo.settled:
        return []
    elif photo.passes is None:
        asked = sentence("The photo is being checked; wait a moment.")
    else:
        failed = photo.sha256
        asked = sentence(
            "The photo did not pass: take it again, or keep it with a reason ({framing}).", framing=framing
        )
    return [Owed("photo", asked, id=wanted.id, step=step, photo=failed)]


def _reason_given(state: JobState, stopped: int) -> bool:
    """A voice note begun after the stop, or one written while the microphone was lost."""
    return any(
        note.sequence > stopped and (note.heard == "recorded" or note.no_microphone) for note in state.notes
    )


def _reading_sentence(reading: Reading) -> Sentence:
    name, limits = bare(reading.name), and_limits(reading)
    if reading.unit:
        return sentence("Enter {name} in {unit}{limits}.", name=name, unit=reading.unit, limits=limits)
    return sentence("Enter {name}{limits}.", name=name, limits=limits)


def limits_in_words(reading: Reading) -> Sentence:
    """ "at least 1 and at most 2 mm"; nothing when there are no limits."""
    low, high, unit = reading.at_least, reading.at_most, reading.unit
    if low is not None and high is not None:
        return sentence("at least {low:g} and at most {high:g} {unit}", low=low, high=high, unit=unit)
    if low is not None:
        return sentence("at least {low:g} {unit}", low=low, unit=unit)
    return NOTHING if high is None else sentence("at most {high:g} {unit}", high=high, unit=unit)


def and_limits(reading: Reading) -> Sentence:
    """The same behind a comma."""
    limits = limits_in_words(reading)
    return joined(", ", (NOTHING, limits)) if limits else limits


def seconds_in_words(seconds: float) -> Sentence:
    """ "10 seconds", "1 minute", "1 minute 30 seconds"."""
    minutes, rest = divmod(seconds, 60)
    words = [counted("{count:g} minute", "{count:g} minutes", minutes)] if minutes else []
    if rest or not minutes:
        words.append(counted("{count:g} second", "{count:g} seconds", rest))
    return joined(" ", words)


def _caution_sentence(caution: Caution) -> Sentence:
    signal, hazard = Sentence(caution.signal.value), bare(caution.hazard)
    return sentence("Read and acknowledge: {signal}, {hazard}.", signal=signal, hazard=hazard)


def _tick_sentence(name: str, item: str) -> Sentence:
    if name == "new-parts":
        return sentence("Tick when at hand and new: {item}.", item=bare(item))
    return sentence("Tick when at hand: {item}.", item=bare(item))
