"""What an utterance leads to: done, asked back, refused, lapsed."""

from __future__ import annotations

import pytest

from evidence_app.sentence import sentence
from evidence_app.voice.understanding.dialogue import ANSWER_WITHIN_S, Dialogue
from evidence_app.voice.understanding.grammar import Allowed, AskedReading
from evidence_app.voice.understanding.words import ENGLISH

GAP = AskedReading(
    "gap",
    "Gap left",
    "mm",
    2,
    outside=lambda v: sentence("That is outside the limits.") if v == "9" else None,
)
ENDS = {"not-clear": sentence("That stops the repair.")}
HERE = Allowed("step-3", frozenset(ENGLISH.phrases), GAP)
AT_THE_END = Allowed("step-3", frozenset(ENGLISH.phrases), GAP, warnings=ENDS)
YES, NO, STOP = "yes confirmed", "no that is wrong", "stop the repair"


def talk(*said: str, every_s: float = 1.0, allowed: Allowed = HERE):
    dialogue = Dialogue()
    return [dialogue.hear(text, allowed, n * every_s) for n, text in enumerate(said)]


def test_a_command_is_done_at_once_and_echoed():
    answer = talk("next step")[0]
    assert (answer.kind, answer.action, str(answer.sentence)) == ("do", "next", "Next step.")


def test_a_finding_is_asked_back_before_it_is_given():
    asked, done = talk("the finding is not clear", YES)
    assert (asked.kind, done.kind, done.action) == ("ask", "do", "not-clear")
    assert "not clear" in str(asked.sentence)
    assert done.confirmed


def test_a_reading_is_read_back_digit_by_digit_before_it_is_entered():
    asked, done = talk("fifteen", YES)
    assert asked.kind == "ask"
    assert "one five millimeters" in str(asked.sentence)
    assert (done.action, done.value, done.reading) == ("reading", "15", "gap")


def test_a_reading_outside_its_limits_is_said_to_be_so():
    asked, done = talk("nine", YES)
    assert "outside the limits" in str(asked.sentence)
    assert done.outside


def test_a_no_records_nothing():
    assert [a.kind for a in talk("fifteen", NO, YES)] == ["ask", "refused", "refused"]


def test_a_second_value_replaces_the_first():
    assert talk("fifteen", "fifty", YES)[-1].value == "50"


def test_a_yes_counts_once():
    assert [a.kind for a in talk("fifteen", YES, YES)] == ["ask", "do", "refused"]


def test_other_talk_does_not_answer_a_question():
    assert [a.kind for a in talk("fifteen", "what a day", YES)] == ["ask", "unheard", "do"]


def test_another_command_drops_the_question():
    assert [a.kind for a in talk("fifteen", "next step", YES)] == ["ask", "do", "refused"]


def test_a_late_yes_records_nothing():
    assert talk("fifteen", YES, every_s=ANSWER_WITHIN_S + 0.1)[-1].kind == "refused"


def test_a_question_that_is_not_answered_is_said_to_have_lapsed_once():
    dialogue = Dialogue()
    dialogue.hear("fifteen", HERE, 0)
    assert dialogue.tick(ANSWER_WITHIN_S) is None
    assert dialogue.tick(ANSWER_WITHIN_S + 0.1).kind == "lapsed"
    assert dialogue.tick(ANSWER_WITHIN_S + 0.2) is None


def test_the_time_to_answer_runs_from_the_end_of_the_spoken_question():
    dialogue = Dialogue()
    dialogue.hear("fifteen", HERE, 0)
    dialogue.heard_out(8)
    assert dialogue.hear(YES, HERE, 17).kind == "do"


def test_a_question_is_void_when_the_job_has_moved():
    dialogue = Dialogue()
    dialogue.hear("fifteen", HERE, 0)
    moved = Allowed("step-4", HERE.actions, GAP)
    assert dialogue.hear(YES, moved, 1).kind == "refused"


@pytest.mark.parametrize("said", ENGLISH.phrases["stop-repair"])
def test_every_word_for_a_stop_is_asked_back(said):
    assert (talk(said)[0].kind, talk(said)[0].action) == ("ask", "stop-repair")


def test_a_stop_is_done_after_a_yes_that_names_it():
    asked, done = talk(STOP, "yes, stop the repair")
    assert "yes, stop the repair" in str(asked.sentence)
    assert (done.kind, done.action, done.confirmed) == ("do", "stop-repair", True)


@pytest.mark.parametrize("said", [YES, "yes", STOP, "yes not clear", "yes confirmed"])
def test_nothing_else_stops_the_repair(said):
    assert talk(STOP, said)[1].kind == "ask"


NEARLY = ENGLISH.near_stops[0]


@pytest.mark.parametrize("said", ENGLISH.near_stops)
def test_what_may_be_a_stop_is_asked_about_the_second_time(said):
    first, second = talk(said, NEARLY)
    assert first.kind == "unheard"
    assert (second.kind, second.action, second.by_name) == ("ask", "stop-repair", True)


def test_what_may_be_a_stop_is_forgotten_after_ten_seconds():
    assert [a.kind for a in talk(NEARLY, NEARLY, every_s=ANSWER_WITHIN_S + 0.1)] == ["unheard"] * 2


def test_after_a_no_what_may_be_a_stop_is_asked_about_at_the_second_saying_again():
    kinds = [a.kind for a in talk(NEARLY, NEARLY, NO, NEARLY, NEARLY)]
    assert kinds == ["unheard", "ask", "refused", "unheard", "ask"]


def test_what_may_be_a_stop_answers_no_question():
    assert [a.kind for a in talk("fifteen", NEARLY, YES)] == ["ask", "unheard", "do"]


def test_where_there_is_no_stop_nothing_may_be_one():
    closed = Allowed("step-3", HERE.actions - {"stop-repair"}, GAP)
    assert [a.kind for a in talk(NEARLY, NEARLY, allowed=closed)] == ["unheard"] * 2


def test_a_finding_that_ends_the_repair_needs_a_yes_that_names_it():
    kinds = [a.kind for a in talk("the finding is not clear", YES, "yes, not clear", allowed=AT_THE_END)]
    assert kinds == ["ask", "ask", "do"]


def test_a_finding_that_goes_on_is_confirmed_by_any_yes():
    assert [a.kind for a in talk("the finding is clear", YES, allowed=AT_THE_END)] == ["ask", "do"]


@pytest.mark.parametrize(
    "said",
    [
        "that isn't right",
        "That’s not right.",
        "yes that is wrong",
        "yes but that is not right",
        "that is right except the last digit",
        "wait, that is right",
        "no yes",
        "I don't think so",
        "never",
    ],
)
def test_a_denial_is_a_no(said):
    answer = talk("fifteen", said)[1]
    assert (answer.kind, answer.code) == ("refused", "rejected")


@pytest.mark.parametrize("said", ["that is bright", "is that right", "yes", "okay that", ""])
def test_what_is_near_to_a_yes_has_the_question_asked_again(said):
    answers = talk("fifteen", said, YES)
    assert [a.kind for a in answers] == ["ask", "ask", "do"]
    assert answers[1].code == "again"
    assert answers[2].value == "15"


def test_a_question_is_asked_again_twice_and_no_more():
    assert [a.kind for a in talk("fifteen", "yes", "yes", "yes")] == ["ask", "ask", "ask", "unheard"]


def test_a_value_that_sounds_like_another_is_told_apart():
    assert "one four millimeters. Not four zero." in str(talk("fourteen")[0].sentence)


def test_touch_that_answers_leaves_no_question():
    dialogue = Dialogue()
    dialogue.hear("fifteen", HERE, 0)
    dialogue.forget()
    assert dialogue.hear(YES, HERE, 1).kind == "refused"
