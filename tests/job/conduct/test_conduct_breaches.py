"""Each way of not obeying the step list is found in a journal forged to do so."""

import msgspec
import pytest

from evidence_app.job.conduct.check import check_conduct
from tests.job.conduct.forgery import found


def test_completed_job_without_a_change_obeys(forgery):
    assert forgery.breaches() == []


def test_stopped_job_without_a_change_obeys(stop_forgery):
    assert stop_forgery.breaches() == []


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("caution-acknowledged", ["without cell"]),
        ("item-ticked", ["without roller"]),
        ("hold-ended", ["while the hold of event 16", "without the hold", "lacks the hold"]),
        ("reading-entered", ["without the reading gap", "lacks the reading gap"]),
        ("photo-judged", ["without the photo slot", "lacks the photo slot"]),
        ("finding-given", ["without a finding that goes on", "lacks a finding that goes on"]),
        ("photo-kept", ["without the photo strip", "lacks the photo strip"]),
        ("job-closed", ["without the job being closed"]),
        ("note-started", ["was not started"]),
    ],
)
def test_missing_event_is_found(forgery, kind, expected):
    nth = 1 if kind == "photo-judged" else 0
    forgery.leave_out(forgery.place(kind, nth))
    found(forgery, *expected)


def test_missing_hold_is_found(forgery):
    forgery.leave_out(forgery.place("hold-started"), forgery.place("hold-ended"))
    found(
        forgery,
        "leaves the step press without the hold",
        "says completed, but the step press lacks the hold",
    )


def test_step_left_out_is_found(forgery):
    forgery.leave_out(forgery.place("step-entered", 0, **{"from": "open"}))
    found(
        forgery,
        "does not follow the step open",
        "is recorded at another step than the current one, open",
        "says it comes from clean; the current step is open",
    )


def test_step_of_another_variant_is_found(forgery):
    forgery.change(forgery.place("step-entered", 1), step="spacers")
    found(
        forgery,
        "a step that this variant does not have",
        "is recorded at another step than the current one, open",
        "says it comes from clean; the current step is open",
        "does not follow the step open in the step list",
    )


def test_hold_that_was_too_short_is_found_whatever_it_says(forgery):
    forgery.later(forgery.place("hold-ended"), -6)
    found(
        forgery,
        "held 6 s, at least 10 s",
        "says 12 s were held; the clock shows 6 s",
        "leaves the step press without the hold",
        "says completed, but the step press lacks the hold",
    )


def test_hold_that_was_too_long_is_found(forgery):
    forgery.later(forgery.place("hold-ended"), 100)
    found(
        forgery,
        "at most 60 s",
        "says 12 s were held; the clock shows 112 s",
        "leaves the step press without the hold",
        "says completed, but the step press lacks the hold",
    )


def test_hold_over_a_restart_is_found(forgery):
    place = forgery.place("hold-ended")
    forgery.add(place, "machine-restarted", None, previous_boot="practice-1")
    found(
        forgery,
        "over a restart",
        "leaves the step press without the hold",
        "says completed, but the step press lacks the hold",
    )


def test_hold_over_an_unrecorded_restart_is_found(forgery):
    for place in range(forgery.place("hold-ended"), len(forgery.events)):
        forgery.events[place] = msgspec.structs.replace(forgery.events[place], boot="other")
    found(
        forgery,
        "over a restart",
        "is on another boot of the machine and no restart is recorded",
        "leaves the step press without the hold",
        "says completed, but the step press lacks the hold",
    )


def test_hold_time_that_the_clock_does_not_show_is_found(forgery):
    forgery.change(forgery.place("hold-ended"), held_s=45)
    found(forgery, "says 45 s were held; the clock shows 12 s")


def test_hold_with_another_minimum_is_found(forgery):
    forgery.change(forgery.place("hold-started"), at_least_s=1)
    found(forgery, "the step list asks 10 s")


def test_photo_said_to_pass_against_its_checks_is_found(forgery):
    forgery.change(forgery.place("photo-judged", passes=False), passes=True)
    found(forgery, "which its checks do not give")


def test_photo_judged_by_no_check_is_found(forgery):
    forgery.change(forgery.place("photo-judged", passes=True), checks=[])
    found(
        forgery,
        "which its checks do not give",
        "gives a finding without the photo slot",
        "leaves the step clean without the photo slot",
        "says completed, but the step clean lacks the photo slot",
    )


def test_photo_kept_without_a_reason_is_found(forgery):
    forgery.change(forgery.place("photo-kept"), reason="...")
    found(
        forgery,
        "without a reason that says something",
        "gives a finding without the photo strip",
        "leaves the step inspect without the photo strip",
        "says completed, but the step inspect lacks the photo strip",
    )


def test_retake_of_a_photo_that_is_not_there_is_found(forgery):
    forgery.change(forgery.place("photo-taken", 1), retake_of="0" * 64)
    found(forgery, "not in the journal before it")


def test_retake_that_is_hidden_is_found(forgery):
    forgery.change(forgery.place("photo-taken", 1), retake_of=None)
    found(forgery, "does not say that it retakes")


def test_photo_shown_twice_is_found(forgery):
    first = forgery.events[forgery.place("photo-taken", 0)].body["photo"]
    forgery.change(forgery.place("photo-taken", 2), photo=first)
    found(
        forgery,
        "a second time",
        "which was not taken before it",
        "gives a finding without the photo strip",
        "leaves the step inspect without the photo strip",
        "says completed, but the step inspect lacks the photo strip",
    )


def test_photo_that_is_not_wanted_is_found(forgery):
    forgery.change(forgery.place("photo-taken", 0), wanted="strip")
    found(forgery, "not wanted here", "which was not the photo for the same view")


def test_practice_photo_in_a_real_job_is_found(forgery):
    forgery.change(0, practice=False, clock="system")
    found(forgery, "practice camera")


def test_practice_clock_in_a_real_job_is_found(forgery):
    forgery.change(0, practice=False)
    found(forgery, "practice clock", "is of the practice camera in a job that is not marked as practice")


def test_reading_said_to_be_within_is_compared_again(forgery):
    forgery.change(forgery.place("reading-entered"), value="0.21")
    found(forgery, "the limits give False")


def test_reading_in_another_unit_is_found(forgery):
    forgery.change(forgery.place("reading-entered"), unit="in")
    found(forgery, "the step list asks for mm")


@pytest.mark.parametrize("value", ["0,1", "1e-1", "0.100", "", "-"])
def test_reading_that_is_no_number_is_found(forgery, value):
    forgery.change(forgery.place("reading-entered"), value=value)
    assert forgery.breaches()


def test_finding_that_leads_elsewhere_than_the_rule_is_found(forgery):
    forgery.change(forgery.place("finding-given"), finding="not-clear")
    found(
        forgery,
        "the step list says stop residue",
        "follows a finding that leads elsewhere (event 14)",
        "leaves the step clean without a finding that goes on",
        "says completed, but the step clean lacks a finding that goes on",
    )


def test_work_after_a_finding_that_stops_is_found(stop_forgery):
    stop_forgery.leave_out(stop_forgery.place("repair-stopped"))
    found(
        stop_forgery,
        "leads elsewhere",
        "is for reason, which is not wanted here",
        "gives the name of a supervisor, which nothing asks for",
        "closes before what the finding of event 10 leads to",
        "says stopped, although the repair was not stopped",
    )


def test_finding_before_its_photos_is_found(forgery):
    place = forgery.place("photo-taken")
    forgery.events.insert(place, forgery.events.pop(forgery.place("finding-given")))
    found(
        forgery,
        "gives a finding without the photo slot",
        "is earlier on the monotonic clock than the event before it",
        "leaves the step clean without a finding that goes on",
        "says completed, but the step clean lacks a finding that goes on",
    )


def test_finding_that_does_not_cover_a_later_photo_is_found(forgery):
    taken = forgery.place("photo-taken", 1)
    given = forgery.place("finding-given")
    forgery.events.insert(taken, forgery.events.pop(given))
    found(
        forgery,
        "without a finding that goes on",
        "gives a finding without the photo slot",
        "is earlier on the monotonic clock than the event before it",
        "says completed, but the step clean lacks a finding that goes on",
    )


def test_redo_that_no_finding_led_to_is_found(forgery):
    place = forgery.place("step-entered", 0, **{"from": "press"})
    forgery.add(place, "step-entered", "clean", **{"reason": "redo", "from": "press"})
    found(
        forgery,
        "which no finding before it leads to",
        "says it comes from press; the current step is clean",
        "does not follow the step clean in the step list",
        "leaves the step clean without the photo slot, a finding that goes on",
        "says completed, but the step clean lacks the photo slot, a finding that goes on",
        "says completed, but the step press lacks the hold, the reading gap, the reading part",
    )


def test_stop_that_nothing_led_to_is_found(stop_forgery):
    stop_forgery.change(stop_forgery.place("finding-given"), finding="clear")
    found(
        stop_forgery, "which nothing before it leads to", "leads to stop residue; the step list says go-on"
    )


def test_softened_disposition_is_found(stop_forgery):
    stop_forgery.change(stop_forgery.place("repair-stopped"), disposition="Clean it and go on.")
    found(stop_forgery, "another disposition")


def test_dropped_prohibition_is_found(stop_forgery):
    stop_forgery.change(stop_forgery.place("repair-stopped"), prohibitions=[])
    found(stop_forgery, "other prohibitions")


def test_work_after_a_stop_is_found(stop_forgery):
    place = stop_forgery.place("repair-stopped") + 1
    stop_forgery.add(place, "step-entered", "press", **{"reason": "next", "from": "clean"})
    found(stop_forgery, "not allowed after the repair was stopped")


@pytest.mark.parametrize(
    ("kind", "nth", "expected"),
    [
        ("photo-taken", 1, ["was not taken before it", "without the photo reason"]),
        ("note-recorded", 0, ["while a voice note", "without the spoken reason"]),
        ("name-given", 0, ["without the name of the supervisor"]),
    ],
)
def test_stopped_job_closed_without_what_is_owed_is_found(stop_forgery, kind, nth, expected):
    stop_forgery.leave_out(stop_forgery.place(kind, nth))
    found(stop_forgery, *expected)


def test_stopped_job_that_says_completed_is_found(stop_forgery):
    stop_forgery.change(stop_forgery.place("job-closed"), outcome="completed")
    found(stop_forgery, "although the repair was stopped")


def test_stopped_job_that_says_abandoned_is_found(stop_forgery):
    stop_forgery.change(stop_forgery.place("job-closed"), outcome="abandoned", reason="not wanted")
    found(stop_forgery, "although the repair was stopped")


def test_completed_job_that_says_stopped_is_found(forgery):
    forgery.change(forgery.place("job-closed"), outcome="stopped")
    found(forgery, "although the repair was not stopped")


def test_job_abandoned_without_a_reason_is_found(forgery):
    forgery.change(forgery.place("job-closed"), outcome="abandoned", reason=None)
    found(forgery, "without a reason")


def test_completed_before_the_last_step_is_found(forgery):
    forgery.leave_out(forgery.place("step-entered", -1))
    found(forgery, "before the last step")


def test_event_after_closing_is_found(forgery):
    forgery.events.append(
        msgspec.structs.replace(forgery.events[-1], kind="note-written", body={"text": "ps", "photo": None})
    )
    found(forgery, "after the job was closed")


def test_journal_without_its_opening_is_found(forgery):
    forgery.leave_out(0)
    found(
        forgery,
        "does not begin with the opening",
        "belongs before the first step of an opened job",
        "acknowledges cell, which is no caution of this variant",
        "enters a step that this variant does not have",
        "is recorded at another step than the current one, None",
        "is of the practice camera in a job that is not marked as practice",
        "is for slot, which is not wanted here",
        "which was not the photo for the same view",
        "gives a finding where the step list asks for none",
        "starts a hold where the step list has none",
        "ends a hold that was not running at this step",
        "enters the reading gap, which is not asked for here",
        "enters the reading part, which is not asked for here",
        "is for strip, which is not wanted here",
        "is for seam, which is not wanted here",
        "measures on a photo for which the step list asks no measurement",
        "says completed before the last step",
    )


def test_second_opening_is_found(forgery):
    forgery.events.insert(3, forgery.events[0])
    found(forgery, "a second time", "is earlier on the monotonic clock than the event before it")


def test_other_step_list_is_found(forgery):
    forgery.change(0, step_list=forgery.events[0].body["step_list"] | {"version": "2.0"})
    found(forgery, "names the step list bench-sample 2.0")


def test_unknown_kind_is_found(forgery):
    forgery.add(4, "step-skipped", None)
    found(forgery, "of a kind that is not known", "follows event 4; numbers must go up by one")


def test_unknown_field_is_found(forgery):
    forgery.change(forgery.place("hold-started"), forgiven=True)
    found(
        forgery,
        "does not have the form of its kind",
        "follows event 15; numbers must go up by one",
        "ends a hold that was not running at this step",
        "leaves the step press without the hold",
        "says completed, but the step press lacks the hold",
    )


def test_gap_in_the_numbers_is_found(forgery):
    changed = [e for e in forgery.events if e.sequence != 4]
    sentences = [str(b.sentence) for b in check_conduct(forgery.step_list, changed)]
    assert any("numbers must go up by one" in sentence for sentence in sentences)


def test_monotonic_clock_running_backwards_is_found(forgery):
    forgery.later(forgery.place("finding-given"), -5)
    found(forgery, "earlier on the monotonic clock")


def test_event_recorded_at_another_step_is_found(forgery):
    forgery.change(forgery.place("reading-entered"), step="clean")
    found(
        forgery,
        "at another step than the current one",
        "enters the reading gap, which is not asked for here",
        "leaves the step press without the reading gap",
        "says completed, but the step press lacks the reading gap",
    )


def test_note_on_a_photo_that_is_not_there_is_found(forgery):
    forgery.change(forgery.place("note-started"), photo="0" * 64)
    found(forgery, "was not taken before it", "binds the note to another photo than when it was started")
