"""Before the work: cautions one by one, then tools, consumables and new parts."""

from msgspec import Struct

from evidence_app.job.rules.owed import owed_before_work
from evidence_app.job.rules.route import cautions_of, items_of
from evidence_app.job.speech.named import checked, key_words
from evidence_app.job.state.job_state import JobState
from evidence_app.language import say
from evidence_app.sentence import sentences_beside
from evidence_app.steplist.model import Caution, StepList
from evidence_app.voice.understanding.words import ENGLISH

_HEADS = sentences_beside(__file__)["heads"]


class ItemShown(Struct, frozen=True):
    list: str
    id: str
    name: str
    ticked: bool
    phrase: str


class Preparing(Struct, frozen=True):
    """``caution`` is the one to be read now; ``items`` are shown once all are read. ``phrase``:
    what may be said for ``main``."""

    title: str
    lead: str
    main: tuple[str, str] | None
    defers_to: str = ""
    caution: Caution | None = None
    items: tuple[tuple[str, tuple[ItemShown, ...]], ...] = ()
    phrase: str = ENGLISH.phrases["next"][0]


def preparing(step_list: StepList, state: JobState) -> Preparing:
    cautions = cautions_of(step_list, state.variant)
    unread = [c for c in cautions if c.id not in state.cautions]
    if unread:
        number = len(cautions) - len(unread) + 1
        return Preparing(
            title=say("Caution {number} of {total}", number=number, total=len(cautions)),
            lead=say("Read it, then acknowledge it. The next one follows."),
            defers_to=" ".join(step_list.defers_to.split()),
            caution=unread[0],
            main=("acknowledge", say("Read and understood")),
            phrase=key_words(unread[0])[0],
        )
    done = not owed_before_work(step_list, state)
    return Preparing(
        title=say("Have ready before work begins"),
        lead=say("Tick each one when it lies on the bench."),
        items=_items(step_list, state),
        main=("next", say("Begin with step 1")) if done else None,
    )


def _items(step_list: StepList, state: JobState) -> tuple[tuple[str, tuple[ItemShown, ...]], ...]:
    groups = []
    for name, head in _HEADS.items():
        items = tuple(
            ItemShown(name, item.id, item.name, (name, item.id) in state.ticked, checked(item)[0])
            for group, item in items_of(step_list)
            if group == name
        )
        if items:
            groups.append((say(head), items))
    return tuple(groups)
