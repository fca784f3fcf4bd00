"""What follows from an utterance: do it, ask first, or refuse. Pure, on a given time.

A finding and a reading are read back and recorded only after a yes; what ends or seals, or keeps
what does not pass, only after a yes that names it ("yes, stop the repair"). A denial of any kind
is a no, and what is near to a yes has the question asked again. What may be a stop is asked about
when it is heard twice within ten seconds: asking is never stopping. A question lapses by itself
after ten seconds, when the job has moved, and when anything else is said that is understood.
"""

from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from evidence_app.sentence import NOTHING, Sentence, joined, sentence, sentences_beside
from evidence_app.voice.understanding import grammar as g
from evidence_app.voice.understanding.numbers import confusable_with, read_back
from evidence_app.voice.understanding.words import ENGLISH, PLAIN, Lexicon

ANSWER_WITHIN_S = 10.0
ASKED_AGAIN = 2  # times; then other talk is left alone until the question lapses

_WORDS = sentences_beside(__file__)
FINDING_SENTENCES = _WORDS["findings"]

ASKED = _WORDS["asked"]
"""What is done only after a yes that names it, and how that is asked for."""

ECHOES = _WORDS["echoes"]
"""What is said when an action is done; the others say their own answer."""


class Answer(Struct, frozen=True):
    """What the app does about an utterance.

    ``do``: carry out ``action`` now, with ``value`` for "reading" (id in ``reading``).
    ``ask``: nothing is recorded yet; say ``sentence`` and listen for the answer.
    ``refused``: say ``sentence``; ``code`` says why. ``unheard``: talk that is not for the
    app; nothing is said. ``lapsed``: a question was not answered. ``sentence`` is for voice
    and screen. ``heard`` is the engine's text. ``by_name``: a yes has to name the action.
    """

    kind: Literal["do", "ask", "refused", "unheard", "lapsed"]
    action: str | None = None
    value: str | None = None
    reading: str | None = None
    sentence: Sentence = NOTHING
    heard: str = ""
    confirmed: bool = False
    outside: bool = False
    by_name: bool = False
    code: str = ""


class _Question(Struct, frozen=True):
    answer: Answer  # what is done on a yes
    place: str
    until_s: float
    again: int = 0


class Dialogue:
    """``hear`` each utterance, ``tick`` now and then. Not for several threads at once."""

    def __init__(self, words: Lexicon = ENGLISH) -> None:
        self._words = words
        self._question: _Question | None = None
        self._stop_until_s = float("-inf")  # until when what may be a stop is its second saying

    @property
    def question(self) -> str | None:
        """As ``grammar.phrases_for`` takes it."""
        if self._question is None:
            return None
        answer = self._question.answer
        return answer.action if answer.by_name else PLAIN

    def hear(self, text: str, allowed: g.Allowed, now_s: float) -> Answer:
        """``now_s``: any clock that only goes forward, the same for ``tick``."""
        self._drop_stale(allowed, now_s)
        question = self._question
        said = g.understand(text, allowed, self.question, self._words)
        if isinstance(said, g.NotSaid):
            return Answer(
                "unheard" if said.code == "talk" else "refused",
                said.action,
                sentence=said.sentence,
                heard=text,
                code=said.code,
            )
        if said.action == g.NEAR_STOP:
            if now_s > self._stop_until_s:
                self._stop_until_s = now_s + ANSWER_WITHIN_S
                return Answer("unheard", heard=text)
            self._stop_until_s = float("-inf")
            said = g.Said(g.STOP)
        if said.action == g.UNSURE and question is not None:
            return self._ask_again(question, text, now_s)
        self._question = None
        if said.action == g.CONFIRM and question is not None:
            return replace(question.answer, heard=text)
        if said.action == g.REJECT:
            told = sentence("Nothing was recorded. Say it again.")
            return Answer("refused", sentence=told, heard=text, code="rejected")
        if said.action in ASKED:
            done = Answer("do", said.action, sentence=ECHOES[said.action], by_name=True)
            asked = Sentence(ASKED[said.action].template, (("phrase", self._yes(said.action)),))
            return self._ask(done, allowed, now_s, asked, text)
        if said.action in g.FINDINGS:
            return self._ask_finding(said.action, allowed, now_s, text)
        if said.value is not None and allowed.reading is not None:
            return self._ask_reading(said.value, allowed.reading, allowed, now_s, text)
        told = ECHOES.get(said.action.split(" ")[0], NOTHING)
        return Answer("do", said.action, sentence=told, heard=text)

    def heard_out(self, now_s: float) -> None:
        """The question has been spoken to its end: the time to answer runs from here."""
        if self._question:
            self._question = replace(self._question, until_s=now_s + ANSWER_WITHIN_S)

    def tick(self, now_s: float) -> Answer | None:
        """The lapse of a question, told once."""
        question = self._question
        if question is None or now_s <= question.until_s:
            return None
        self._question = None
        told = sentence("No answer was heard. Nothing was recorded.")
        return Answer("lapsed", question.answer.action, sentence=told, code="lapsed")

    def forget(self) -> None:
        """Drop a question, for instance when touch has answered it."""
        self._question = None

    def _drop_stale(self, allowed: g.Allowed, now_s: float) -> None:
        question = self._question
        if question and (question.place != allowed.place or now_s > question.until_s):
            self._question = None

    def _yes(self, question: str) -> str:
        """The yes that is asked for, as it is said: "yes, stop the repair"."""
        return self._words.answers[question][0].replace("yes ", "yes, ", 1)

    def _is_that_right(self) -> Sentence:
        return sentence("If that is right, say: {phrase}.", phrase=self._yes(PLAIN))

    def _ask_finding(self, action: str, allowed: g.Allowed, now_s: float, text: str) -> Answer:
        finding = FINDING_SENTENCES[action]
        warning = allowed.warnings.get(action)
        told = sentence("You said: {finding}.", finding=finding)
        asked = (
            joined(" ", (told, self._is_that_right()))
            if warning is None
            else joined(" ", (told, warning, sentence("If so, say: {phrase}.", phrase=self._yes(action))))
        )
        done = Answer(
            "do",
            action,
            sentence=sentence("Recorded: {finding}.", finding=finding),
            by_name=warning is not None,
        )
        return self._ask(done, allowed, now_s, asked, text)

    def _ask_reading(
        self, value: str, asked: g.AskedReading, allowed: g.Allowed, now_s: float, text: str
    ) -> Answer:
        unit = self._words.units.get(asked.unit, (asked.unit,))[-1] if asked.unit else ""
        told = f"{read_back(value, self._words)} {unit}".strip()
        other = confusable_with(value)
        outside = asked.outside(value) if asked.outside else None
        parts = [
            sentence("{name}: {value}.", name=asked.name, value=told),
            sentence("Not {other}.", other=read_back(other, self._words)) if other else None,
            outside,
            self._is_that_right(),
        ]
        done = Answer(
            "do",
            "reading",
            value,
            asked.id,
            sentence("Recorded: {value}.", value=told),
            outside=outside is not None,
        )
        return self._ask(done, allowed, now_s, joined(" ", [p for p in parts if p]), text)

    def _ask(self, done: Answer, allowed: g.Allowed, now_s: float, asked: Sentence, heard: str) -> Answer:
        done = replace(done, confirmed=True)
        until = now_s + ANSWER_WITHIN_S
        self._question = _Question(done, allowed.place, until)
        return replace(done, kind="ask", sentence=asked, heard=heard, confirmed=False)

    def _ask_again(self, question: _Question, heard: str, now_s: float) -> Answer:
        if question.again >= ASKED_AGAIN:
            return Answer("unheard", heard=heard)
        until = now_s + ANSWER_WITHIN_S
        self._question = replace(question, again=question.again + 1, until_s=until)
        yes = self._yes(self.question or PLAIN)
        no = self._words.rejections[0].replace("no ", "no, ", 1)
        told = sentence("That was not clear. Say “{yes}” or “{no}”.", yes=yes, no=no)
        return replace(
            question.answer, kind="ask", sentence=told, heard=heard, confirmed=False, code="again"
        )
