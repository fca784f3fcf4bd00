"""What is read aloud where a job stands."""

from __future__ import annotations

from evidence_app.job import commands as c
from evidence_app.job.speech.aloud import aloud, help_aloud, results_aloud
from evidence_app.job.speech.spoken import allowed_now
from tests.job.bench import SOURCE


def read(bench, action: str) -> str:
    job = bench.job
    return str(aloud(action, job.step_list, job.state, job.now()))


def test_the_step_is_read_with_its_place(bench):
    bench.work_to("clean")
    assert read(bench, "read-step") == "Step 2 of 5. Clean. Clean the slot."


def test_the_cautions_of_the_step_are_read_with_their_signal_word(bench):
    bench.work_to("open")
    assert read(bench, "read-cautions") == "Warning. The cell holds energy. Take it out first."


def test_a_step_that_is_entered_is_told_in_short_with_its_caution_and_what_is_owed(bench):
    bench.work_to("open")
    assert "Warning: Take it out first." in read(bench, "step-entered")
    bench.work_to("clean")
    assert read(bench, "step-entered") == ("Step 2 of 5. Clean. Take the photo: The whole slot.")


def test_all_of_a_step_is_read_with_its_cautions(bench):
    bench.work_to("open")
    told = read(bench, "read-step")
    assert told.startswith("Warning. The cell holds energy. Take it out first. Step 1 of 5.")


def test_a_step_without_cautions_says_so(bench):
    bench.work_to("clean")
    assert read(bench, "read-cautions") == "There is no caution at this step."


def test_what_is_owed_is_read(bench):
    bench.work_to("clean")
    assert "Take the photo: The whole slot." in read(bench, "owed")


def test_the_time_left_of_a_hold_is_read(bench, clock):
    bench.work_to("press")
    assert read(bench, "time-left") == "No hold is running."
    bench.do(c.StartHold())
    clock.advance(4)
    assert read(bench, "time-left") == "6 seconds left."
    clock.advance(7)
    assert read(bench, "time-left") == "The hold is long enough."


def test_help_names_a_phrase_for_what_is_open_and_no_other(bench):
    bench.work_to("open")
    job = bench.job
    told = str(help_aloud(allowed_now(job.step_list, job.state, job.now())))
    assert "next step" in told
    assert "begin the hold" not in told


def test_the_reasons_why_a_photo_does_not_pass_are_read(bench):
    bench.work_to("clean")
    photo = c.TakePhoto(bench.photos.blurred(), "slot", "checkpoint", SOURCE)
    told = results_aloud(bench.do(photo))
    checks = bench.last("photo-judged").body["checks"]
    assert told == [check["sentence"] for check in checks if not check["holds"]] != []
