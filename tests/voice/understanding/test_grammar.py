"""Only what the moment allows is understood, and only said whole."""

from __future__ import annotations

import pytest

from evidence_app.sentence import sentence
from evidence_app.voice.understanding.grammar import (
    CONFIRM,
    Allowed,
    AskedReading,
    NotSaid,
    Said,
    phrases_for,
    understand,
    while_it_speaks,
)
from evidence_app.voice.understanding.words import ENGLISH, PLAIN

EVERYTHING = Allowed("step", frozenset(ENGLISH.phrases))
GAP = AskedReading("gap", "Gap", "mm", 2)
MEASURING = Allowed("step", frozenset({"next"}), GAP)


@pytest.mark.parametrize("phrase", [p for ps in ENGLISH.phrases.values() for p in ps])
def test_every_phrase_means_its_own_action(phrase):
    action = next(a for a, ps in ENGLISH.phrases.items() if phrase in ps)
    assert understand(phrase.capitalize() + ".", EVERYTHING) == Said(action)


@pytest.mark.parametrize("phrase", [p for ps in ENGLISH.phrases.values() for p in ps])
@pytest.mark.parametrize("before", ["do not", "Don't", "not the", "never", "I would not"])
def test_the_opposite_of_a_phrase_means_nothing(before, phrase):
    assert understand(f"{before} {phrase}", EVERYTHING) == NotSaid()


@pytest.mark.parametrize("question", ENGLISH.answers)
def test_only_the_answers_to_the_question_confirm_it(question):
    phrases = phrases_for(EVERYTHING, question)
    assert {p for p, a in phrases.items() if a == CONFIRM} == set(ENGLISH.answers[question])


def test_no_phrase_stands_for_two_actions():
    phrases = [p for ps in ENGLISH.phrases.values() for p in ps]
    assert len(set(phrases)) == len(phrases)


@pytest.mark.parametrize(
    "said",
    [
        "next",
        "clear",
        "not clear",
        "take the photo of my dog",
        "I said next step to him",
        "",
        "...",
        "Nächster Schritt",
        "下一步",
    ],
)
def test_anything_but_a_whole_phrase_means_nothing(said):
    assert understand(said, EVERYTHING) == NotSaid()


def test_can_not_and_can_t_are_cannot():
    assert understand("I can't tell.", EVERYTHING) == Said("cannot-tell")


def test_an_action_that_is_not_open_now_is_refused_with_its_reason():
    allowed = Allowed("step", frozenset(), refusals={"next": sentence("Not yet.")})
    assert understand("next step", allowed) == NotSaid("not-open", sentence("Not yet."), "next")


def test_an_answer_is_refused_when_nothing_was_asked():
    assert understand("yes confirmed", EVERYTHING).code == "nothing-asked"


def test_a_number_is_a_value_only_where_one_is_asked_for():
    assert understand("zero point two", MEASURING) == Said("reading", "0.2")
    assert understand("zero point two", EVERYTHING) == NotSaid()


def test_a_number_that_will_not_do_gets_a_sentence():
    assert understand("one twenty", MEASURING).code == "no-value"


def test_talk_where_a_number_is_asked_for_gets_none():
    assert understand("did you see the game yesterday", MEASURING) == NotSaid()


def test_answers_are_offered_only_while_one_is_awaited():
    assert "yes confirmed" not in phrases_for(MEASURING)
    assert phrases_for(MEASURING, PLAIN)["yes confirmed"] == CONFIRM


SPOKEN_INTO = while_it_speaks(Allowed("step", frozenset(ENGLISH.phrases), GAP))


@pytest.mark.parametrize(
    ("text", "question", "action"),
    [
        ("stop the repair", None, "stop-repair"),
        ("wait a moment", None, "wait"),
        ("no that is wrong", "plain", "reject"),
        ("yes confirmed", "plain", "unsure"),
        ("yes stop the repair", "stop-repair", "unsure"),
    ],
)
def test_while_it_speaks_a_stop_and_a_no_are_open_and_a_yes_is_asked_again(text, question, action):
    assert understand(text, SPOKEN_INTO, question) == Said(action)


@pytest.mark.parametrize("text", ["next step", "take the photo", "clear", "nought point one two"])
def test_while_it_speaks_nothing_else_is_open(text):
    assert understand(text, SPOKEN_INTO) == NotSaid()


def test_while_it_speaks_no_phrase_confirms():
    assert CONFIRM not in phrases_for(SPOKEN_INTO, "plain").values()
