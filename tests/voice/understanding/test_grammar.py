"""Only what the moment allows is understood, and only said whole."""

from __future__ import annotations

import itertools

import pytest

from evidence_app.voice.understanding.grammar import (
    Allowed,
    AskedReading,
    NotSaid,
    Said,
    phrases_for,
    plain,
    understand,
)
from evidence_app.voice.understanding.words import ENGLISH

EVERYTHING = Allowed("step", frozenset(ENGLISH.phrases))
GAP = AskedReading("gap", "Gap", "mm", 2)
MEASURING = Allowed("step", frozenset({"next"}), GAP)


@pytest.mark.parametrize("phrase", [p for ps in ENGLISH.phrases.values() for p in ps])
def test_every_phrase_means_its_own_action(phrase):
    action = next(a for a, ps in ENGLISH.phrases.items() if phrase in ps)
    assert understand(phrase.capitalize() + ".", EVERYTHING, waiting=True) == Said(action)


def test_no_phrase_stands_for_two_actions():
    phrases = [p for ps in ENGLISH.phrases.values() for p in ps]
    assert len(set(phrases)) == len(phrases)


def test_no_phrase_begins_a_phrase_for_another_action():
    said = [(a, p) for a, ps in ENGLISH.phrases.items() for p in ps]
    assert not [
        (p, q)
        for (a, p), (b, q) in itertools.permutations(said, 2)
        if a != b and f"{q} ".startswith(f"{p} ")
    ]


def test_phrases_are_in_their_plain_form():
    assert all(plain(p) == p for ps in ENGLISH.phrases.values() for p in ps)


def test_every_phrase_has_two_words_or_more():
    assert all(" " in p for ps in ENGLISH.phrases.values() for p in ps)


@pytest.mark.parametrize(
    "said",
    [
        "next",
        "clear",
        "not clear",
        "stop",
        "yes",
        "take the photo of my dog",
        "I said next step to him",
        "",
        "...",
        "Nächster Schritt",
        "下一步",
    ],
)
def test_anything_but_a_whole_phrase_means_nothing(said):
    assert understand(said, EVERYTHING, waiting=True) == NotSaid()


def test_can_not_and_can_t_are_cannot():
    assert understand("I can't tell.", EVERYTHING) == Said("cannot-tell")


def test_an_action_that_is_not_open_now_is_refused_with_its_reason():
    allowed = Allowed("step", frozenset(), refusals={"next": "Not yet. Take the photo."})
    assert understand("next step", allowed) == NotSaid("Not yet. Take the photo.")


def test_an_answer_is_refused_when_nothing_was_asked():
    assert understand("yes that is right", EVERYTHING.__class__("s", frozenset())).sentence


def test_a_number_is_a_value_only_where_one_is_asked_for():
    assert understand("zero point two", MEASURING) == Said("reading", "0.2")
    assert understand("zero point two", EVERYTHING) == NotSaid()


def test_a_number_that_will_not_do_gets_a_sentence():
    assert "digit by digit" in understand("one twenty", MEASURING).sentence


def test_talk_where_a_number_is_asked_for_gets_none():
    assert understand("did you see the game yesterday", MEASURING) == NotSaid()


def test_answers_are_offered_only_while_one_is_awaited():
    assert "yes that is right" not in phrases_for(MEASURING, waiting=False)
    assert phrases_for(MEASURING, waiting=True)["yes that is right"] == "confirm"
