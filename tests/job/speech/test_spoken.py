"""What may be said where a job stands, and what is recorded of it."""

from __future__ import annotations

import pytest

from evidence_app.job import commands as c
from evidence_app.job.speech.spoken import allowed_now, command_of
from evidence_app.voice.understanding.dialogue import Answer, Dialogue
from tests.job.bench import Bench


def allowed(bench: Bench):
    job = bench.job
    return allowed_now(job.step_list, job.state, job.now())


def speak(bench: Bench, *said: str) -> list[Answer]:
    """Say it all, a second apart, and have the job do what follows."""
    job, dialogue, answers = bench.job, Dialogue(), []
    for second, text in enumerate(said):
        answer = dialogue.hear(text, allowed(bench), float(second))
        command = command_of(answer, job.state, job.now()) if answer.kind == "do" else None
        if command is not None:
            job.do(command)
        answers.append(answer)
    return answers


def kinds(bench: Bench) -> list[str]:
    return [event.kind for event in bench.job.record.events]


def test_next_is_refused_with_what_is_owed(bench):
    bench.work_to("clean")
    (answer,) = speak(bench, "next step")
    assert (answer.kind, str(answer.sentence)) == ("refused", "Not yet. Take the photo: The whole slot.")


def test_next_goes_on_where_nothing_is_owed(bench):
    bench.work_to("open")
    speak(bench, "next step")
    assert bench.job.state.step == "clean"


def test_a_finding_is_refused_before_the_photo(bench):
    bench.work_to("clean")
    assert speak(bench, "the finding is clear")[0].kind == "refused"


def test_a_spoken_finding_is_recorded_after_the_yes(bench):
    bench.work_to("clean")
    bench.settle()
    before = len(kinds(bench))
    speak(bench, "the finding is clear")
    assert len(kinds(bench)) == before
    speak(bench, "the finding is clear", "yes, confirmed")
    assert kinds(bench)[-1] == "finding-given"


@pytest.mark.parametrize("kind", ["clear", "reading", "stop-repair"])
def test_nothing_unconfirmed_becomes_a_command(bench, kind):
    bench.work_to("press")
    answer = Answer("do", kind, "0.1", "gap", confirmed=False)
    assert command_of(answer, bench.job.state, bench.job.now()) is None


def test_a_hold_is_begun_and_ended_by_voice(bench, clock):
    bench.work_to("press")
    speak(bench, "begin the hold")
    assert "time-left" in allowed(bench).actions
    clock.advance(15)
    speak(bench, "release the hold")
    assert bench.job.state.hold_of("press").met


def test_a_reading_is_asked_for_only_after_the_hold(bench, clock):
    bench.work_to("press")
    assert allowed(bench).reading is None
    bench.do(c.StartHold())
    clock.advance(15)
    bench.do(c.EndHold())
    assert allowed(bench).reading.id == "gap"


@pytest.fixture
def asked(bench, clock):
    bench.work_to("press")
    bench.do(c.StartHold())
    clock.advance(15)
    bench.do(c.EndHold())
    return bench


def test_a_spoken_reading_is_recorded_as_spoken(asked):
    speak(asked, "zero point one five millimetres", "yes confirmed")
    body = asked.job.record.events[-1].body
    assert (body["value"], body["entered_by"], body["within"]) == ("0.15", "spoken", True)


def test_a_reading_outside_its_limits_is_said_so_and_recorded_so(asked):
    question, _ = speak(asked, "zero point two five", "yes confirmed")
    assert "outside the limits" in str(question.sentence)
    assert asked.job.record.events[-1].body["within"] is False


def test_a_serial_is_spelled(asked):
    speak(asked, "zero point one", "yes confirmed", "mike sierra four dash bravo", "yes confirmed")
    assert asked.job.state.reading_of("press", "part").value == "MS4-B"


def test_an_entry_is_taken_back_within_five_seconds(asked, clock):
    speak(asked, "zero point one", "yes confirmed", "undo the last entry")
    assert kinds(asked)[-1] == "taken-back"
    assert asked.job.state.reading_of("press", "gap") is None


def test_after_five_seconds_nothing_is_taken_back(asked, clock):
    speak(asked, "zero point one", "yes confirmed")
    clock.advance(6)
    assert speak(asked, "undo the last entry")[0].kind == "refused"


def test_the_repair_is_stopped_after_a_yes_that_names_it(bench):
    bench.work_to("clean")
    speak(bench, "stop the repair")
    assert bench.job.state.phase == "working"
    speak(bench, "stop the repair", "yes, stop the repair")
    assert bench.job.state.phase == "stopped"


def test_during_a_note_only_its_end_and_a_stop_are_listened_for(bench):
    bench.work_to("clean")
    bench.do(c.StartNote())
    assert allowed(bench).actions == {"end-note", "stop-repair"}


def test_a_stop_ends_the_note_and_then_the_repair(bench):
    bench.work_to("clean")
    bench.do(c.StartNote())
    speak(bench, "stop the repair", "yes, stop the repair")
    assert bench.job.state.phase == "stopped"


def test_a_muted_microphone_still_hears_a_stop(bench):
    bench.work_to("clean")
    job = bench.job
    muted = allowed_now(job.step_list, job.state, job.now(), muted=True)
    assert muted.actions == {"unmute", "stop-repair"}


def test_a_job_that_was_left_takes_no_commands(bench):
    bench.work_to("clean")
    bench.do(c.Leave())
    assert allowed(bench).actions == {"mute", "help"}


def test_a_finding_that_ends_the_repair_says_so_before_the_yes(bench):
    bench.work_to("clean")
    bench.settle()
    stopping = {name for name, said in allowed(bench).warnings.items() if "stops the repair" in str(said)}
    assert stopping
    for name in ("clear", "not-clear", "cannot-tell"):
        said = {
            "clear": "the finding is clear",
            "not-clear": "the finding is not clear",
            "cannot-tell": "I cannot tell from this",
        }[name]
        asked = speak(bench, said)[0]
        assert ("stops the repair" in str(asked.sentence)) is (name in stopping)


def test_an_entry_that_is_too_old_is_not_taken_back_and_the_way_on_is_told(bench):
    bench.work_to("open")
    speak(bench, "next step")
    bench.clock.advance(6)
    before = len(kinds(bench))
    (answer,) = speak(bench, "undo the last entry")
    assert answer.kind == "refused" and "under Entries" in str(answer.sentence)
    assert len(kinds(bench)) == before
