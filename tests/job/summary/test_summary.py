"""The summary says what the journal and the step list give, and nothing is left out."""

from __future__ import annotations

import hashlib

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evidence_app.devices.watch import DeviceLost, DeviceReturned
from evidence_app.job import commands as c
from evidence_app.job.rules.owed import owed_after_stop, owed_anywhere, owed_before_work
from evidence_app.job.summary.summarise import summarise
from evidence_app.record.event import Draft, seal_draft
from evidence_app.sentence import Sentence
from tests.job.bench import STEP_LIST, Bench, Photos
from tests.job.rules.test_any_order import Anything, acts
from tests.job.summary.odd_journals import journal
from tests.job.summary.summing import STEPS, step_of, stop_at_the_slot, summary_of
from tests.restarting import RestartingClock


def states(summary, step: str) -> dict[str, str]:
    """State of everything owed at a step, by its id."""
    return {owed.id if owed.kind != "finding" else "finding": owed.state
            for owed in step_of(summary, step).owed}  # fmt: skip


def unmet(owed) -> set[tuple[str, str]]:
    return {(each.kind, each.id) for each in owed if each.state not in ("shown", "kept")}


@pytest.fixture
def closed(bench):
    bench.work_to("shut")
    bench.do(c.Close())
    return bench


@pytest.fixture
def stopped(bench):
    stop_at_the_slot(bench)
    return bench


# --- identity and outcome ------------------------------------------------------------


def test_identity_is_that_of_the_opening(closed):
    identity = summary_of(closed).identity
    assert (identity.claim, identity.serial, identity.technician, identity.practice) == (
        "C-77", "H7-0001", "M. Okafor-Lind", True,
    )  # fmt: skip
    assert identity.step_list_sha256 == hashlib.sha256(STEP_LIST).hexdigest()


def test_completed_job_owes_nothing(closed):
    summary = summary_of(closed)
    assert summary.outcome.outcome == "completed"
    assert summary.owed_but_missing == ()


def test_sentence_counts_kept_photos_and_readings_outside(bench):
    bench.work_to("press")
    bench.hold()
    bench.do(c.EnterReading("gap", "0.30", confirm_outside=True), c.EnterReading("part", "MS-4"))
    bench.do(c.GoOn())
    strip = bench.photo("strip", blurred=True)
    bench.do(c.KeepPhoto(strip, "the part is in view"))
    bench.work_to("shut")
    bench.do(c.Close())
    sentence = str(summary_of(bench).outcome.sentence)
    kept = sum(o.state == "kept" for step in summary_of(bench).steps for o in step.owed)
    assert f"{kept} photo" in sentence
    assert "1 reading lies outside its limits." in sentence


def test_sentence_of_a_stop_names_step_reason_and_disposition(stopped):
    sentence = str(summary_of(stopped).outcome.sentence)
    assert "step 2 of 5, “Clean”" in sentence
    assert "Residue in the slot" in sentence
    assert "Exchange the whole unit" in sentence


def test_abandoned_job_gives_its_reason(bench):
    bench.do(c.Abandon("called back by the claimant"))
    assert "called back by the claimant" in str(summary_of(bench).outcome.sentence)


def test_open_job_is_open(bench):
    assert summary_of(bench).outcome.outcome == "open"


def test_time_at_work_leaves_out_absences(bench):
    bench.do(c.AcknowledgeCaution("cell"), c.Leave())
    worked = summary_of(bench).outcome.worked_s
    bench.clock.advance(3600)
    bench.resume()
    assert summary_of(bench).outcome.worked_s == worked


# --- owed and shown ---------------------------------------------------------------------


def test_kept_photo_is_not_called_shown(bench):
    bench.work_to("clean")
    sha = bench.photo("slot", blurred=True)
    bench.do(c.KeepPhoto(sha, "the stand is in the way"))
    assert states(summary_of(bench), "clean")["slot"] == "kept"


def test_steps_never_reached_are_not_missing(stopped):
    summary = summary_of(stopped)
    assert set(states(summary, "inspect").values()) == {"not-reached"}
    assert summary.owed_but_missing == ()


def test_step_left_in_the_middle_is_unfinished(bench):
    bench.work_to("press")
    bench.hold()
    bench.do(c.Abandon("no light"))
    assert states(summary_of(bench), "press") == {
        "press": "shown", "gap": "unfinished", "part": "unfinished",
    }  # fmt: skip


def test_forged_completion_shows_what_is_missing(bench):
    bench.work_to("clean")
    events = list(bench.job.record.events)
    closing = Draft("job-closed", {"outcome": "completed", "reason": None})
    last = events[-1]
    events.append(seal_draft(closing, last.instant, last.sequence + 1, last.hash))
    missing = summarise(STEPS, events).owed_but_missing
    assert ("clean", "photo", "slot") in {(m.step, m.kind, m.id) for m in missing}


def test_work_begun_without_cautions_shows_them_missing():
    events = journal(Draft("step-entered", {"reason": "first", "from": None}, "open"))
    missing = {(m.kind, m.id) for m in summarise(STEPS, events).owed_but_missing}
    assert ("caution", "cell") in missing


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(sequence=st.lists(acts, min_size=5, max_size=40))
def test_summary_owes_what_the_guide_owes(tmp_path_factory, sequence):
    """Whatever was done in whatever order."""
    folder = tmp_path_factory.mktemp("any") / "job"
    bench = Bench(folder, RestartingClock("2026-03-02T08:00:00.000+01:00"), Photos())
    bench.open()
    bench.work_to("clean")
    anything = Anything(bench)
    for act in sequence:
        anything.do(act)
    state, summary = bench.job.state, summary_of(bench)
    if state.phase == "stopped":
        guide = owed_after_stop(bench.job.step_list, state)
        mine = unmet(summary.stop.owed)
    else:
        guide = owed_anywhere(bench.job.step_list, state)
        mine = unmet(owed for step in summary.steps for owed in step.owed)
    assert mine == {
        (o.kind, o.id or (o.step if o.kind != "spoken-reason" else "spoken-reason")) for o in guide
    }
    bench.job.close()


def test_preparing_owes_what_the_guide_owes(bench):
    bench.do(c.AcknowledgeCaution("cell"), c.TickItem("tools", "roller"))
    guide = owed_before_work(bench.job.step_list, bench.job.state)
    assert {owed.id for owed in summary_of(bench).before_work if owed.state != "shown"} == {
        owed.id for owed in guide
    }


# --- photos -----------------------------------------------------------------------------


def test_every_take_is_listed_and_the_newest_counts(bench):
    bench.work_to("clean")
    bench.photo("slot", blurred=True)
    bench.photo("slot")
    takes = step_of(summary_of(bench), "clean").photos
    assert [(p.passes, p.counts, p.superseded) for p in takes] == [
        (False, False, True), (True, True, False),
    ]  # fmt: skip


def test_failing_photo_carries_its_sentences(bench):
    bench.work_to("clean")
    bench.photo("slot", blurred=True)
    judged = bench.last("photo-judged").body["checks"]
    (take,) = step_of(summary_of(bench), "clean").photos
    assert [check.sentence for check in take.checks] == [check["sentence"] for check in judged]


def test_sending_back_supersedes_what_was_shown(bench):
    bench.work_to("clean")
    bench.settle()
    bench.do(c.GiveFinding("cannot-tell"))
    step = step_of(summary_of(bench), "clean")
    assert step.redo_count == 1
    assert [(p.counts, p.superseded) for p in step.photos] == [(False, True)]


def test_measurement_is_given_as_recorded(bench):
    bench.work_to("inspect")
    sha = bench.photo("seam")  # without the scale card that is wanted
    bench.do(c.KeepPhoto(sha, "The card does not fit beside it"))
    result = {"kind": "gap", "unit": "mm", "value": 0.21, "U": 0.06, "conformity": "inconclusive",
              "method": "edges", "sentence": "It may be too wide.", "terms": [{"u": 0.01}]}  # fmt: skip
    bench.do(c.RecordMeasurement(sha, "seam", result, None))
    shown = step_of(summary_of(bench), "inspect").photos[-1].measurements[-1]
    assert (shown.value, shown.U, shown.conformity) == (0.21, 0.06, "inconclusive")
    assert shown.more == {"terms": [{"u": 0.01}]}


# --- holds and readings --------------------------------------------------------------------


def test_hold_too_short_and_hold_met_are_both_listed(bench):
    bench.work_to("press")
    bench.hold(4)
    bench.hold(12)
    hold = step_of(summary_of(bench), "press").hold
    assert [(a.held_s, a.met, a.counts) for a in hold.attempts] == [
        (4, False, False), (12, True, True),
    ]  # fmt: skip


def test_hold_is_recomputed_from_the_clock_that_cannot_be_set():
    events = journal(
        Draft("hold-started", {"at_least_s": 10}, "press"),
        Draft("hold-ended", {"held_s": 12.0, "met": True, "reason": None}, "press"),
    )
    (attempt,) = step_of(summarise(STEPS, events), "press").hold.attempts
    assert (attempt.held_s, attempt.met) == (1.0, False)
    assert (attempt.recorded_s, attempt.recorded_met) == (12.0, True)


def test_hold_longer_than_allowed_is_not_met(bench):
    bench.work_to("press")
    bench.hold(61)
    assert step_of(summary_of(bench), "press").hold.met is False


def test_hold_across_a_restart_has_no_length(bench):
    bench.work_to("press")
    bench.do(c.StartHold())
    bench.clock.restart()
    bench.resume()
    (attempt,) = step_of(summary_of(bench), "press").hold.attempts
    assert (attempt.held_s, attempt.met) == (None, False)
    assert attempt.lost_reason


def test_reading_is_compared_with_the_step_list_again():
    body = {"reading": "gap", "value": "0.30", "unit": "mm", "within": True, "entered_by": "typed"}
    summary = summarise(STEPS, journal(Draft("reading-entered", body, "press")))
    (entry,) = step_of(summary, "press").readings[0].entries
    assert (entry.within, entry.recorded_within) == (False, True)


def test_limit_itself_is_within():
    body = {"reading": "gap", "value": "0.20", "unit": "mm", "within": True, "entered_by": "typed"}
    summary = summarise(STEPS, journal(Draft("reading-entered", body, "press")))
    assert step_of(summary, "press").readings[0].entries[0].within is True


# --- findings, notes, stops -------------------------------------------------------------------


def test_finding_taken_back_does_not_count(bench):
    bench.work_to("clean")
    bench.settle()
    (given,) = bench.do(c.GiveFinding("clear"))
    bench.do(c.TakeBack(given.sequence))
    (finding,) = step_of(summary_of(bench), "clean").findings
    assert (finding.counts, finding.taken_back) == (False, True)


def test_photo_after_a_finding_puts_it_in_question(bench):
    bench.work_to("clean")
    bench.settle()
    bench.do(c.GiveFinding("clear"))
    bench.photo("slot")
    assert states(summary_of(bench), "clean")["finding"] == "unfinished"


def test_note_carries_sound_transcript_and_correction(bench):
    note = bench.say(1.5)
    bench.do(c.AddTranscript(note, "fore clear", "engine", "1"), c.CorrectTranscript(note, "all clear"))
    (shown,) = summary_of(bench).general_notes
    assert (shown.seconds, shown.transcript.text, shown.transcript.corrected) == (
        1.5, "fore clear", "all clear",
    )  # fmt: skip
    assert shown.audio.sha256 == bench.last("note-recorded").body["audio"]["sha256"]


def test_redo_taken_back_supersedes_nothing(bench):
    bench.work_to("clean")
    bench.settle()
    given, _ = bench.do(c.GiveFinding("cannot-tell"))
    bench.do(c.TakeBack(given.sequence))
    step = step_of(summary_of(bench), "clean")
    assert (step.redo_count, step.photos[0].counts) == (0, True)


def test_written_reason_answers_where_no_microphone_was(bench):
    bench.work_to("clean")
    bench.settle()
    bench.do(
        c.ReportDevice(DeviceLost("microphone", "mic", Sentence("unplugged"))), c.GiveFinding("not-clear")
    )
    (written,) = bench.do(c.WriteNote("Grit on the floor of the slot."))
    stop = summary_of(bench).stop
    assert {o.kind: o.by for o in stop.owed}["spoken-reason"] == written.sequence


def test_stop_gathers_what_was_shown_after_it(stopped):
    stop = summary_of(stopped).stop
    assert (stop.rule, stop.by, stop.finding, stop.step) == (
        "residue", "finding", "not-clear", "clean",
    )  # fmt: skip
    assert [owed.state for owed in stop.owed] == ["shown", "shown", "shown"]
    assert len(stop.photos) == len(stop.notes) == len(stop.names) == 1
    assert stop.worked_after == ()


def test_work_after_a_stop_is_named(stopped):
    events = list(stopped.job.record.events)
    opened = [e for e in events if e.kind != "job-closed"]
    last = opened[-1]
    entered = Draft("step-entered", {"reason": "next", "from": "clean"}, "press")
    opened.append(seal_draft(entered, last.instant, last.sequence + 1, last.hash))
    assert [m.sequence for m in summarise(STEPS, opened).stop.worked_after] == [last.sequence + 1]


# --- clocks and disturbances ---------------------------------------------------------------------


def test_clock_set_back_is_shown(bench):
    bench.clock.set_wall("2026-03-02T07:00:00.000+01:00")
    bench.do(c.AcknowledgeCaution("cell"))
    (note,) = summary_of(bench).clock_notes
    assert (note.kind, note.recorded) == ("earlier", True)
    assert "back by" in str(note.sentence)


def test_clock_step_without_its_event_is_shown_too():
    events = journal(Draft("job-left", {}), Draft("job-resumed", {}))
    late = msgspec.structs.replace(events[1], wall="2026-03-02T09:30:00.000+01:00")
    (note,) = summarise(STEPS, [events[0], late]).clock_notes
    assert (note.kind, note.recorded) == ("stepped", False)


def test_lost_device_is_paired_with_its_return(bench):
    bench.do(c.ReportDevice(DeviceLost("camera", "cam", Sentence("unplugged"))))
    bench.do(c.ReportDevice(DeviceReturned("camera", "cam", 2.0)))
    (loss,) = summary_of(bench).device_losses
    assert (loss.message, loss.away_s, loss.returned is not None) == ("unplugged", 2.0, True)


def test_absence_is_by_the_wall_clock(bench):
    bench.do(c.Leave())
    bench.clock.advance(600)
    bench.clock.restart()
    bench.resume()
    (absence,) = summary_of(bench).absences
    assert absence.away_s == 600
