"""What follows from an utterance: do it, ask first, or refuse. Pure, on a given time.

A finding and a reading are read back and recorded only after a yes. Stopping the repair
is asked to be said again. A question lapses by itself after ten seconds, when the job
has moved, and when anything else is said that is understood.
"""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from evidence_app.voice.understanding.grammar import FINDINGS, Allowed, NotSaid, understand
from evidence_app.voice.understanding.numbers import read_back
from evidence_app.voice.understanding.words import ENGLISH, Words

ANSWER_WITHIN_S = 10.0
STOP = "stop-repair"

FINDING_SENTENCES = {
    "clear": "the finding is clear",
    "not-clear": "the finding is not clear",
    "cannot-tell": "you cannot tell from this",
}

ECHOES = {
    "next": "Next step.",
    "back": "Previous step.",
    "photo": "Taking the photo.",
    "retake": "Taking the photo again.",
    "start-hold": "The hold begins.",
    "end-hold": "The hold ends.",
    "start-note": "The voice note begins.",
    "end-note": "The voice note ends.",
    "take-back": "Taken back.",
    "stop-listening": "No longer listening.",
}
"""What is said when an action is done; the others say their own answer."""


class Answer(Struct, frozen=True):
    """What the app does about an utterance.

    ``do``: carry out ``action`` now, with ``value`` for "reading" (id in ``reading``).
    ``ask``: nothing is recorded yet; say ``sentence`` and listen for the answer.
    ``refused``: say ``sentence``. ``unheard``: talk that is not for the app; nothing is
    said. ``lapsed``: a question was not answered. ``sentence`` is for voice and screen.
    ``heard`` is the engine's text.
    """

    kind: Literal["do", "ask", "refused", "unheard", "lapsed"]
    action: str | None = None
    value: str | None = None
    reading: str | None = None
    sentence: str = ""
    heard: str = ""
    confirmed: bool = False
    outside: bool = False


class _Question(Struct, frozen=True):
    answer: Answer  # what is done on a yes
    place: str
    until_s: float


class Dialogue:
    """``hear`` each utterance, ``tick`` now and then. Not for several threads at once."""

    def __init__(self, words: Words = ENGLISH) -> None:
        self._words = words
        self._question: _Question | None = None

    @property
    def waiting(self) -> str | None:
        """The action that waits for a yes or to be said again; None when nothing does."""
        return self._question.answer.action if self._question else None

    def hear(self, text: str, allowed: Allowed, now_s: float) -> Answer:
        """``now_s``: any clock that only goes forward, the same for ``tick``."""
        self._drop_stale(allowed, now_s)
        question = self._question
        answers = question is not None and question.answer.action != STOP
        said = understand(text, allowed, answers, self._words)
        if isinstance(said, NotSaid):
            kind = "refused" if said.sentence else "unheard"
            return Answer(kind, sentence=said.sentence or "", heard=text)
        self._question = None
        if said.action == "confirm":
            return _heard(question.answer, text)
        if said.action == "reject":
            return Answer("refused", sentence="Nothing was recorded. Say it again.", heard=text)
        if said.action == STOP:
            if question is not None and question.answer.action == STOP:
                return _heard(question.answer, text)
            return self._ask(
                Answer("do", STOP, sentence="The repair is stopped.", heard=text, confirmed=True),
                allowed,
                now_s,
                f"To stop the repair, say again: {self._words.phrases[STOP][0]}.",
            )
        if said.action in FINDINGS:
            finding = FINDING_SENTENCES[said.action]
            warning = allowed.warnings.get(said.action, "")
            return self._ask(
                Answer("do", said.action, sentence=f"Recorded: {finding}.", confirmed=True),
                allowed,
                now_s,
                f"You said: {finding}. {warning + ' ' if warning else ''}Is that right?",
                text,
            )
        if said.action == "reading":
            return self._ask_reading(said.value, allowed, now_s, text)
        return Answer("do", said.action, sentence=ECHOES.get(said.action, ""), heard=text)

    def heard_out(self, now_s: float) -> None:
        """The question has been spoken to its end: the time to answer runs from here."""
        if self._question:
            self._question = _Question(
                self._question.answer, self._question.place, now_s + ANSWER_WITHIN_S
            )

    def tick(self, now_s: float) -> Answer | None:
        """The lapse of a question, told once."""
        question = self._question
        if question is None or now_s <= question.until_s:
            return None
        self._question = None
        return Answer(
            "lapsed", question.answer.action, sentence="No answer was heard. Nothing was recorded."
        )

    def forget(self) -> None:
        """Drop a question, for instance when touch has answered it."""
        self._question = None

    def _drop_stale(self, allowed: Allowed, now_s: float) -> None:
        question = self._question
        if question and (question.place != allowed.place or now_s > question.until_s):
            self._question = None

    def _ask_reading(self, value: str, allowed: Allowed, now_s: float, text: str) -> Answer:
        asked = allowed.reading
        unit = self._words.units.get(asked.unit, (asked.unit,))[-1] if asked.unit else ""
        told = f"{read_back(value, self._words)} {unit}".strip()
        outside = asked.outside(value) if asked.outside else None
        question = f"{asked.name}: {told}. {outside + ' ' if outside else ''}Is that right?"
        return self._ask(
            Answer(
                "do",
                "reading",
                value,
                asked.id,
                f"Recorded: {told}.",
                confirmed=True,
                outside=outside is not None,
            ),
            allowed,
            now_s,
            question,
            text,
        )

    def _ask(
        self, answer: Answer, allowed: Allowed, now_s: float, sentence: str, heard: str = ""
    ) -> Answer:
        self._question = _Question(answer, allowed.place, now_s + ANSWER_WITHIN_S)
        return Answer(
            "ask",
            answer.action,
            answer.value,
            answer.reading,
            sentence,
            heard or answer.heard,
            outside=answer.outside,
        )


def _heard(answer: Answer, text: str) -> Answer:
    return Answer(
        answer.kind,
        answer.action,
        answer.value,
        answer.reading,
        answer.sentence,
        text,
        answer.confirmed,
        answer.outside,
    )
