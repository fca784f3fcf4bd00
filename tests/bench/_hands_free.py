"""What is said before the work, at its end and for a list, and its opposites: for tuning and for
scoring, apart. Scored are the cautions and items of the sample step lists, which no wording was
chosen by, with the voices that nothing was tuned with; the ``DEV_…`` ones are invented for tuning.
"""

from __future__ import annotations

from itertools import pairwise

from evidence_app.job.speech.named import checked, key_words, not_checked
from evidence_app.locations import sample
from evidence_app.steplist.load import load
from evidence_app.steplist.model import Caution, Item, Signal
from evidence_app.tablet.presenting.voice import numbered
from evidence_app.voice.understanding.grammar import CONFIRM, NEITHER, Allowed
from tests.bench._voice_sounds import say

_LISTS = ("bail-stand-exchange", "window-rebond", "window-rebond-cellular")
_BEFORE_WORK = frozenset({"read-step", "read-cautions", "owed", "help", "mute", "start-note", "leave"})
_STANDING = _BEFORE_WORK | {"stop-repair", "abandon", "take-back"}
_AT_A_LIST = frozenset({"help", "mute", "new", "unit", "fill-in", "open"})

DEV_CAUTIONS = (
    ("danger", "mains-voltage"),
    ("danger", "swollen-cell"),
    ("warning", "sharp-edges"),
    ("warning", "hot-air"),
    ("warning", "adhesive-fumes"),
    ("caution", "pinch-point"),
    ("caution", "loose-spring"),
    ("notice", "lens-coating"),
)
DEV_ITEMS = (
    "torque-key",
    "blower",
    "hand-lamp",
    "gloves",
    "cleaning-swabs",
    "sealing-ring",
    "spare-screws",
    "thread-lock",
)

# {signal} and {subject} of a caution; what is none of its words, or denies them.
DEV_NO_CAUTION = (
    "no {signal}, {subject}",
    "{signal}, not {subject}",
    "I don't see the {subject}",
    "yes",
    "{subject} again",
)
NO_CAUTION = (
    "yes",
    "yes, confirmed",
    "understood",
    "{subject}",
    "{signal}",
    "{signal}, no {subject}",
    "not {signal}, {subject}",
    "no, {signal}, {subject}",
    "never mind the {subject}",
    "what about the {subject}",
    "I did not read the {signal}, {subject}",
    "there is no {subject}",
)
DEV_NOT_CHECKED = (
    "{name}, not checked",
    "{name} is not here",
    "check the {name}",
    "who checked the {name}",
)
NOT_CHECKED = (
    "{name} isn't checked",
    "{name}, unchecked",
    "{name}, never checked",
    "no {name}, checked",
    "I have not checked the {name}",
    "{name} is missing",
    "where is the {name}",
)
DEV_ALL = ("all items are here", "everything is here", "all of them are here")
ALL = (*DEV_ALL, "all items are here please", "um everything is here", "now all items are here")
DEV_NOT_ALL = ("not all items are here", "nearly everything is here", "all items but the lamp are here")
NOT_ALL = (
    "not everything is here",
    "everything isn't here",
    "all items are not here",
    "all items aren't here",
    "not all of them are here",
    "almost everything is here",
    "all items except one are here",
    "is everything here",
    "everything was here",
    "everything is near",
    "all tins are here",
    "no, everything is here",
    "I don't think everything is here",
    "everything is there",
    "yes",
)

_NAMED = {
    "keep-photo": ("keep it with a reason", "keep it"),
    "abandon": ("abandon the job", "abandon it"),
    "close": ("close the job", "close it"),
    "seal": ("seal the package", "seal it"),
    "all-here": ("all items are here", "tick them"),
}
DEV_YES = ("yes, {phrase}", "um yes {phrase}", "yes please, {phrase}")
YES = (
    "yes, {phrase}",
    "yes {phrase} please",
    "er yes {phrase}",
    "yes {phrase} now",
    "please, yes {phrase}",
)
DEV_NOT = ("no do not {phrase}", "yes, confirmed", "yes {phrase} no", "yes don't {phrase}", "yes")
NOT = (
    "don't {phrase}",
    "do not {phrase}",
    "no, {phrase}",
    "never {phrase}",
    "yes but do not {short}",
    "yes, not yet",
    "yes, wait",
    "yes, that is wrong",
    "yes, write it down",
    "yes, stop the repair",
    "no, don't {short}",
    "yes, pause the job",
    "yes, close the door",
    "yes, I will {short} later",
    "not yet",
    "yes, yes",
    "could you {phrase}",
)


def _each(voices, texts, voices_each: int):
    """(sound, truth, *rest) of each of ``texts``, by so many of the voices, all in turn."""
    for place, (text, *rest) in enumerate(texts):
        for turn in range(voices_each):
            yield say(voices[(place + 4 * turn) % len(voices)], text), *rest


def _things(dev: bool) -> tuple[list[Caution], list[Item]]:
    if dev:
        made = [
            Caution(id=name, signal=Signal(signal.upper()), hazard=".", avoid=".")
            for signal, name in DEV_CAUTIONS
        ]
        return made, [Item(id=name, name=name) for name in DEV_ITEMS]
    lists = [load(sample(f"ossmere-h7-{name}.toml")) for name in _LISTS]
    cautions = {c.id: c for steps in lists for c in steps.cautions}
    items = {i.id: i for steps in lists for i in (*steps.tools, *steps.consumables, *steps.new_parts)}
    return list(cautions.values()), list(items.values())


def rows(row, dev: bool, voices, talk, actions: frozenset[str]):
    """``row`` makes a row of the benchmark; ``talk`` is other people's, ``actions`` all."""
    cautions, items = _things(dev)
    words = {c.id: key_words(c) for c in cautions}
    place = {
        c.id: Allowed(
            "",
            _STANDING,
            own={"acknowledge": words[c.id]},
            near={w[0]: NEITHER for n, w in words.items() if n != c.id},
        )
        for c in cautions
    }
    said = [(words[c.id][0], "acknowledge", place[c.id]) for c in cautions]
    yield row("hands: a caution's words", _each(voices, said, 4), Allowed("", _STANDING))
    none = [
        (
            text.format(signal=c.signal.value.lower(), subject=words[c.id][0].split(", ")[1]),
            None,
            place[c.id],
        )
        for c in cautions
        for text in (DEV_NO_CAUTION if dev else NO_CAUTION)
    ]
    none += [(words[a.id][0], None, place[b.id]) for a, b in pairwise(cautions)]
    yield row(
        "hands: none of a caution's words", _each(voices, none, 1), Allowed("", _STANDING), None, True
    )

    near = {said: way for item in items for said, way in not_checked(item).items()}
    ticks = Allowed(
        "", _STANDING | {"all-here"}, own={f"tick {i.id}": checked(i) for i in items}, near=near
    )
    said = [(checked(i)[0], f"tick {i.id}") for i in items]
    yield row("hands: an item ticked", _each(voices, said, 2), ticks)
    none = [
        (text.format(name=checked(i)[0].split(",")[0]), None)
        for i in items
        for text in (DEV_NOT_CHECKED if dev else NOT_CHECKED)
    ]
    yield row("hands: an item not there", _each(voices, none, 1), ticks, None, True)
    for other in (
        "chucked",
        *(("choked", "jacked", "wrecked") if dev else ("chalked", "choked", "jacked")),
    ):
        none = [(text.replace("checked", other), None) for text, _ in said]
        yield row(f"hands: an item {other}", _each(voices, none, 1), ticks, None, True)
    said = [(text, "all-here") for text in (DEV_ALL if dev else ALL)]
    yield row("hands: all items", _each(voices, said, 5), ticks)
    none = [(text, None) for text in (DEV_NOT_ALL if dev else NOT_ALL)]
    yield row("hands: not all items", _each(voices, none, 4), ticks, None, True)

    everywhere = Allowed("", actions)
    yes, no = (DEV_YES, DEV_NOT) if dev else (YES, NOT)
    for question, (phrase, short) in _NAMED.items():
        said = [(text.format(phrase=phrase), CONFIRM) for text in yes]
        yield row(f"hands: yes ({question} asked)", _each(voices, said, 4), everywhere, question)
        none = [(text.format(phrase=phrase, short=short), None) for text in no]
        title = f"hands: denials taken for a yes ({question} asked)"
        yield row(title, _each(voices, none, 2), everywhere, question, True, CONFIRM)

    numbers = Allowed("", _AT_A_LIST, own={f"list {n}": numbered(n, "") for n in range(1, 20)})
    said = [(numbered(n, "")[0], f"list {n}") for n in range(1 + (not dev), 20, 2)]
    yield row("hands: a number of a list", _each(voices, said, 3), numbers)
    own = {"acknowledge": words[cautions[0].id], **ticks.own, **numbers.own}
    yield row("hands: other talk (human)", talk, Allowed("", actions, own=own), None, True)
