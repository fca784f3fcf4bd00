"""The listening sign, and the card that shows what was heard and what follows from it.

Spoken commands and the voice are English; the screen says the same in its own language.
"""

import re
from pathlib import Path

import msgspec
from msgspec import Struct

from evidence_app.job.rules.route import step_named
from evidence_app.job.speech.aloud import open_phrases
from evidence_app.job.state.job_state import JobState
from evidence_app.language import language, say
from evidence_app.sentence import NOTHING, Sentence
from evidence_app.steplist.model import StepList
from evidence_app.tablet.presenting.working.step import finding_words
from evidence_app.voice.understanding.dialogue import Answer
from evidence_app.voice.understanding.grammar import FINDINGS, Allowed
from evidence_app.voice.understanding.words import ENGLISH, PLAIN

_LONGEST_HEARD = 60
_LONGEST_ON_SIGN = 24


class SignShown(Struct, frozen=True):
    """``shape`` a drawn sign; ``words`` the state; ``hint`` what a touch does, or what was
    heard."""

    shape: str
    words: str
    hint: str


class CardShown(Struct, frozen=True):
    """``heard`` is what was understood, ``words`` what follows. ``plates``: (action, words,
    kind) from left to right. ``border`` a colour of the palette."""

    heard: str
    words: str
    plates: tuple[tuple[str, str, str], ...] = ()
    border: str = "haze"


class _Tables(Struct, frozen=True):
    """What voice.toml beside this file holds, in English."""

    signs: dict[str, SignShown]
    off: dict[str, SignShown]
    does: dict[str, str]
    asks: dict[str, dict[str, str]]


_TABLES = msgspec.toml.decode(Path(__file__).with_suffix(".toml").read_bytes(), type=_Tables)


def sign_shown(state: str, reason: str = "", heard: str = "", helps: Sentence = NOTHING) -> SignShown:
    """``state`` as voice.toml names it, or "off", which has a ``reason`` and perhaps what ``helps``."""
    if state == "listening" and language() != "en":
        state = "foreign"
    sign = _TABLES.off[reason] if state == "off" else _TABLES.signs[state]
    hint = say(helps) if helps and state == "off" and reason != "lost" else say(sign.hint)
    if state == "heard":
        hint = in_quotes(heard, _LONGEST_ON_SIGN)
    return SignShown(sign.shape, say(sign.words), hint)


def in_quotes(heard: str, longest: int = _LONGEST_HEARD) -> str:
    text = " ".join(heard.split()).rstrip(".?!,")
    return f"“{text if len(text) <= longest else text[: longest - 1] + '…'}”"


def heard_line(answer: Answer) -> str:
    return say("Heard: {text}", text=in_quotes(answer.heard)) if answer.heard.strip() else ""


# --- questions ------------------------------------------------------------------------


def question_card(answer: Answer, allowed: Allowed) -> CardShown:
    """What was read back, with a yes and a no to touch."""
    heard = heard_line(answer)
    yes = with_phrase(say("Yes, confirmed"), "confirm")
    no = ("reject", with_phrase(say("No, that is wrong"), "reject"), "plain")
    asks = _TABLES.asks.get(answer.action or "")
    if asks is not None:
        plates = (("confirm", say(asks["yes"]), "stop"), ("reject", say(asks["no"]), "plain"))
        return CardShown(heard, say(asks["words"]), plates, "clay")
    if answer.action in FINDINGS:
        words = say("The finding: {finding}. Is that right?", finding=finding_words(answer.action))
        stops = answer.by_name
        if stops:
            words += " " + say("That stops the repair and cannot be taken back.")
            words += " " + say("If so, say “{phrase}”.", phrase=yes_phrase(answer.action))
        return CardShown(
            heard,
            words,
            (("confirm", say("Yes, confirmed"), "stop") if stops else ("confirm", yes, "main"), no),
            "clay" if stops else "brass",
        )
    name = allowed.reading.name if allowed.reading else ""
    unit = (allowed.reading.unit or "") if allowed.reading else ""
    words = say("{name}: {value}. Is that right?", name=name, value=f"{answer.value} {unit}".strip())
    if answer.outside:
        words += " " + say("That is outside the limits.")
    return CardShown(heard, words, (("confirm", yes, "main"), no), "clay" if answer.outside else "brass")


def yes_phrase(action: str) -> str:
    """The yes that names ``action``, as it is said."""
    return _written(ENGLISH.answers[action][0])


def with_phrase(words: str, action: str) -> str:
    """``words`` of a plate and, where the screen is in another language than the ear, the
    phrase that does the same. ``action`` as in ``ENGLISH.phrases``, "confirm" or "reject"."""
    if language() == ENGLISH.language:
        return words
    known = {**ENGLISH.phrases, "confirm": ENGLISH.answers[PLAIN], "reject": ENGLISH.rejections}
    return f"{words}\n“{_written(known[action][0])}”"


# --- what was done --------------------------------------------------------------------


def done_words(answer: Answer) -> str:
    """What a command did, in the language of the screen."""
    if answer.action in FINDINGS:
        return say("Recorded: the finding is {finding}.", finding=finding_words(answer.action))
    if answer.action == "reading":
        return say("Recorded: {value}.", value=answer.value or "")
    return say(answer.sentence)


def done_card(answer: Answer, can_take_back: bool) -> CardShown:
    plates: tuple[tuple[str, str, str], ...] = ()
    words = done_words(answer)
    if can_take_back:
        words += " " + say(
            "It can be taken back for 5 seconds: by touch, or say “take back the last entry”."
        )
        plates = (("take-back", say("Take it back"), "plain"),)
    return CardShown(heard_line(answer), words, plates, "mint")


def answer_card(answer: Answer, told: Sentence, border: str = "haze") -> CardShown:
    return CardShown(heard_line(answer), say(told), border=border)


# --- what was asked for -----------------------------------------------------------------


def told_card(
    answer: Answer, aloud: Sentence, step_list: StepList, state: JobState, allowed: Allowed
) -> CardShown:
    """The answer to "read the instruction", "what is owed", "how long is left" and help."""
    text = say(aloud)
    match answer.action:
        case "read-step":
            step = step_named(step_list, state.step)
            text = step.instruction if step else say("The work has not begun.")
        case "help":
            phrases = "  ·  ".join(f"“{_written(p)}”" for p in open_phrases(allowed))
            text = say("You can say: {phrases}", phrases=phrases)
            if allowed.reading is not None:
                text += "  ·  " + say("or the value: {name}", name=allowed.reading.name)
    return CardShown(heard_line(answer), text, (("understood", say("OK"), "plain"),))


PLATES = {"new", "unit", "fill-in", "open", "close", "seal", "done"}
"""Actions of plates that a phrase of the language presses wherever the plate is shown."""

NUMBERED = {"list", "variant", "ticket", "unit", "same", "job"}
"""The first words of the actions of plates that are chosen from a list by their number."""


def numbered(number: int, title: str) -> tuple[str, ...]:
    """What is said for a plate of a list, the first being what it shows: its number, or its
    title where that is of common letters alone."""
    words = [*list(ENGLISH.digits)[1:10], *ENGLISH.small][number - 1 : number]
    said = tuple(f"{before} {word}" for word in words for before in ("item number", "number"))
    return (*said, title.lower()) if re.fullmatch("[A-Za-z ]+", title) else said


def phrase_rows() -> list[tuple[str, str]]:
    """(phrases, what they do) of every command, for the settings."""
    rows = [
        (" / ".join(f"“{_written(p)}”" for p in said), say(_TABLES.does[action]))
        for action, said in ENGLISH.phrases.items()
    ]
    yes = " / ".join(f"“{_written(p)}”" for p in ENGLISH.answers[PLAIN])
    no = " / ".join(f"“{_written(p)}”" for p in ENGLISH.rejections[:2])
    named = " / ".join(f"“{yes_phrase(action)}”" for action in ENGLISH.answers if action != PLAIN)
    return [
        *rows,
        (yes, say("Yes, to what was read back")),
        (named, say("Yes, where that stops the repair")),
        (no, say("No, to what was read back; any “no” or “not” is one")),
    ]


def _written(phrase: str) -> str:
    """The words are all lower case and without a mark; on the screen they are not."""
    written = " ".join("I" if word == "i" else word for word in phrase.split())
    return re.sub(r"^(yes|no) ", r"\1, ", written)
