"""What an utterance leads to: done, asked back, refused, lapsed."""

from __future__ import annotations

from evidence_app.voice.understanding.dialogue import ANSWER_WITHIN_S, Dialogue
from evidence_app.voice.understanding.grammar import Allowed, AskedReading
from evidence_app.voice.understanding.words import ENGLISH

GAP = AskedReading(
    "gap",
    "Gap left",
    "mm",
    2,
    outside=lambda v: "That is outside the limits." if v == "9" else None,
)
HERE = Allowed("step-3", frozenset(ENGLISH.phrases) - {"confirm", "reject"}, GAP)
YES, NO, STOP = "yes that is right", "no that is wrong", "stop the repair"


def talk(*said: str, every_s: float = 1.0, allowed: Allowed = HERE):
    dialogue = Dialogue()
    return [dialogue.hear(text, allowed, n * every_s) for n, text in enumerate(said)]


def test_a_command_is_done_at_once_and_echoed():
    answer = talk("next step")[0]
    assert (answer.kind, answer.action, answer.sentence) == ("do", "next", "Next step.")


def test_a_finding_is_asked_back_before_it_is_given():
    asked, done = talk("the finding is not clear", YES)
    assert (asked.kind, done.kind, done.action) == ("ask", "do", "not-clear")
    assert "not clear" in asked.sentence
    assert done.confirmed


def test_a_reading_is_read_back_digit_by_digit_before_it_is_entered():
    asked, done = talk("fifteen", YES)
    assert asked.kind == "ask"
    assert "one five millimeters" in asked.sentence
    assert (done.action, done.value, done.reading) == ("reading", "15", "gap")


def test_a_reading_outside_its_limits_is_said_to_be_so():
    asked, done = talk("nine", YES)
    assert "outside the limits" in asked.sentence
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


def test_stopping_is_asked_to_be_said_again():
    asked, done = talk(STOP, STOP)
    assert (asked.kind, done.kind, done.action) == ("ask", "do", "stop-repair")


def test_a_yes_does_not_stop_the_repair():
    assert [a.kind for a in talk(STOP, YES)] == ["ask", "refused"]


def test_saying_stop_twice_with_another_command_between_stops_nothing():
    assert [a.kind for a in talk(STOP, "next step", STOP)] == ["ask", "do", "ask"]


def test_saying_stop_again_too_late_asks_again():
    assert [a.kind for a in talk(STOP, STOP, every_s=11)] == ["ask", "ask"]


def test_touch_that_answers_leaves_no_question():
    dialogue = Dialogue()
    dialogue.hear("fifteen", HERE, 0)
    dialogue.forget()
    assert dialogue.hear(YES, HERE, 1).kind == "refused"
