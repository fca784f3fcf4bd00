"""Each way of not obeying the step list is found in a journal forged to do so.

The forger has the app's own key: numbers, clocks and the chain are as they should
be, only the conduct is not.
"""

from functools import cache

import msgspec
import pytest

from evidence_app.job import commands as c
from evidence_app.job.replay import check_conduct


class Forgery:
    """The events of a true journal, to be changed, left out or added to."""

    def __init__(self, journal) -> None:
        self.step_list, events = journal
        self.events = list(events)

    def place(self, kind, nth=0, **body):
        places = [
            place
            for place, event in enumerate(self.events)
            if event.kind == kind and all(event.body.get(k) == v for k, v in body.items())
        ]
        return places[nth]

    def change(self, place, step=..., **body):
        event = self.events[place]
        changes = {"body": event.body | body}
        if step is not ...:
            changes["step"] = step
        self.events[place] = msgspec.structs.replace(event, **changes)

    def leave_out(self, *places):
        self.events = [e for p, e in enumerate(self.events) if p not in places]

    def add(self, place, kind, step, **body):
        self.events.insert(
            place, msgspec.structs.replace(self.events[place - 1], kind=kind, step=step, body=body)
        )

    def later(self, place, seconds):
        """Everything from ``place`` on happens later (or earlier) by ``seconds``."""
        for p in range(place, len(self.events)):
            moved = self.events[p].mono_us + round(seconds * 1e6)
            self.events[p] = msgspec.structs.replace(self.events[p], mono_us=moved)

    def breaches(self):
        numbered = [
            msgspec.structs.replace(event, sequence=number)
            for number, event in enumerate(self.events, start=1)
        ]
        return [breach.sentence for breach in check_conduct(self.step_list, numbered)]


def completed(bench):
    """With a retake, a kept photo and a note."""
    bench.work_to("clean")
    bench.photo("slot", blurred=True)
    bench.say()
    bench.work_to("inspect")
    sha = bench.photo("strip", blurred=True)
    bench.do(c.KeepPhoto(sha, "the lens is cracked"))
    bench.work_to("shut")
    bench.do(c.Close())


def stopped(bench):
    bench.work_to("clean")
    bench.settle()
    bench.do(c.GiveFinding("not-clear"))
    bench.photo("reason", "stop-reason")
    bench.say()
    bench.do(c.GiveName("supervisor", "R. Tavares-Holm"), c.Close())


def with_taking_back(bench):
    bench.work_to("press")
    bench.do(c.StartHold())
    bench.clock.advance(10)
    (entered,) = bench.do(c.EnterReading("gap", "0.15"))
    bench.do(c.TakeBack(entered.sequence))
    bench.do(c.EndHold())
    bench.work_to("shut")
    bench.do(c.Close())


@pytest.fixture(scope="module")
def journal_of(journal_maker):
    """The journal of a story, written once."""
    return cache(journal_maker)


@pytest.fixture
def forgery(journal_of):
    """Of a completed job."""
    return Forgery(journal_of(completed))


@pytest.fixture
def stop_forgery(journal_of):
    """Of a stopped job."""
    return Forgery(journal_of(stopped))


def found(forgery, words):
    breaches = forgery.breaches()
    assert any(words in breach for breach in breaches), breaches


def test_completed_job_without_a_change_obeys(forgery):
    assert forgery.breaches() == []


def test_stopped_job_without_a_change_obeys(stop_forgery):
    assert stop_forgery.breaches() == []


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("caution-acknowledged", "without cell"),
        ("item-ticked", "without roller"),
        ("hold-ended", "while the hold"),
        ("reading-entered", "without the reading gap"),
        ("photo-judged", "without the photo slot"),
        ("finding-given", "without a finding that goes on"),
        ("photo-kept", "without the photo strip"),
        ("job-closed", "without the job being closed"),
        ("note-started", "was not started"),
    ],
)
def test_missing_event_is_found(forgery, kind, words):
    nth = 1 if kind == "photo-judged" else 0
    forgery.leave_out(forgery.place(kind, nth))
    found(forgery, words)


def test_missing_hold_is_found(forgery):
    forgery.leave_out(forgery.place("hold-started"), forgery.place("hold-ended"))
    found(forgery, "leaves the step press without the hold")


def test_step_left_out_is_found(forgery):
    forgery.leave_out(forgery.place("step-entered", 0, **{"from": "open"}))
    found(forgery, "does not follow the step open")


def test_step_of_another_variant_is_found(forgery):
    forgery.change(forgery.place("step-entered", 1), step="spacers")
    found(forgery, "a step that this variant does not have")


def test_hold_that_was_too_short_is_found_whatever_it_says(forgery):
    forgery.later(forgery.place("hold-ended"), -6)
    found(forgery, "held 6 s, at least 10 s")


def test_hold_that_was_too_long_is_found(forgery):
    forgery.later(forgery.place("hold-ended"), 100)
    found(forgery, "at most 60 s")


def test_hold_over_a_restart_is_found(forgery):
    place = forgery.place("hold-ended")
    forgery.add(place, "machine-restarted", None, previous_boot="practice-1")
    found(forgery, "over a restart")


def test_hold_over_an_unrecorded_restart_is_found(forgery):
    for place in range(forgery.place("hold-ended"), len(forgery.events)):
        forgery.events[place] = msgspec.structs.replace(forgery.events[place], boot="other")
    found(forgery, "over a restart")


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
    found(forgery, "which its checks do not give")


def test_photo_kept_without_a_reason_is_found(forgery):
    forgery.change(forgery.place("photo-kept"), reason="...")
    found(forgery, "without a reason that says something")


def test_retake_of_a_photo_that_is_not_there_is_found(forgery):
    forgery.change(forgery.place("photo-taken", 1), retake_of="0" * 64)
    found(forgery, "not in the journal before it")


def test_retake_that_is_hidden_is_found(forgery):
    forgery.change(forgery.place("photo-taken", 1), retake_of=None)
    found(forgery, "does not say that it retakes")


def test_photo_shown_twice_is_found(forgery):
    first = forgery.events[forgery.place("photo-taken", 0)].body["photo"]
    forgery.change(forgery.place("photo-taken", 2), photo=first)
    found(forgery, "a second time")


def test_photo_that_is_not_wanted_is_found(forgery):
    forgery.change(forgery.place("photo-taken", 0), wanted="strip")
    found(forgery, "not wanted here")


def test_practice_photo_in_a_real_job_is_found(forgery):
    forgery.change(0, practice=False, clock="system")
    found(forgery, "practice camera")


def test_practice_clock_in_a_real_job_is_found(forgery):
    forgery.change(0, practice=False)
    found(forgery, "practice clock")


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
    found(forgery, "the step list says stop residue")


def test_work_after_a_finding_that_stops_is_found(stop_forgery):
    stop_forgery.leave_out(stop_forgery.place("repair-stopped"))
    found(stop_forgery, "leads elsewhere")


def test_finding_before_its_photos_is_found(forgery):
    place = forgery.place("photo-taken")
    forgery.events.insert(place, forgery.events.pop(forgery.place("finding-given")))
    found(forgery, "gives a finding without the photo slot")


def test_finding_that_does_not_cover_a_later_photo_is_found(forgery):
    taken = forgery.place("photo-taken", 1)
    given = forgery.place("finding-given")
    forgery.events.insert(taken, forgery.events.pop(given))
    found(forgery, "without a finding that goes on")


def test_redo_that_no_finding_led_to_is_found(forgery):
    place = forgery.place("step-entered", 0, **{"from": "press"})
    forgery.add(place, "step-entered", "clean", **{"reason": "redo", "from": "press"})
    found(forgery, "which no finding before it leads to")


def test_stop_that_nothing_led_to_is_found(stop_forgery):
    stop_forgery.change(stop_forgery.place("finding-given"), finding="clear")
    found(stop_forgery, "which nothing before it leads to")


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
    ("kind", "nth", "words"),
    [
        ("photo-taken", 1, "without the photo reason"),
        ("note-recorded", 0, "while a voice note"),
        ("name-given", 0, "without the name of the supervisor"),
    ],
)
def test_stopped_job_closed_without_what_is_owed_is_found(stop_forgery, kind, nth, words):
    stop_forgery.leave_out(stop_forgery.place(kind, nth))
    found(stop_forgery, words)


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
        msgspec.structs.replace(
            forgery.events[-1], kind="note-written", body={"text": "ps", "photo": None}
        )
    )
    found(forgery, "after the job was closed")


def test_journal_without_its_opening_is_found(forgery):
    forgery.leave_out(0)
    found(forgery, "does not begin with the opening")


def test_second_opening_is_found(forgery):
    forgery.events.insert(3, forgery.events[0])
    found(forgery, "a second time")


def test_other_step_list_is_found(forgery):
    forgery.change(0, step_list=forgery.events[0].body["step_list"] | {"version": "2.0"})
    found(forgery, "names the step list bench-sample 2.0")


def test_unknown_kind_is_found(forgery):
    forgery.add(4, "step-skipped", None)
    found(forgery, "of a kind that is not known")


def test_unknown_field_is_found(forgery):
    forgery.change(forgery.place("hold-started"), forgiven=True)
    found(forgery, "does not have the form of its kind")


def test_gap_in_the_numbers_is_found(forgery):
    changed = [e for e in forgery.events if e.sequence != 4]
    sentences = [b.sentence for b in check_conduct(forgery.step_list, changed)]
    assert any("numbers must go up by one" in sentence for sentence in sentences)


def test_monotonic_clock_running_backwards_is_found(forgery):
    forgery.later(forgery.place("finding-given"), -5)
    found(forgery, "earlier on the monotonic clock")


def test_event_recorded_at_another_step_is_found(forgery):
    forgery.change(forgery.place("reading-entered"), step="clean")
    found(forgery, "at another step than the current one")


def test_note_on_a_photo_that_is_not_there_is_found(forgery):
    forgery.change(forgery.place("note-started"), photo="0" * 64)
    found(forgery, "was not taken before it")


class TestTakingBack:
    """Forged in a job whose last entry at a step can be taken back."""

    @pytest.fixture
    def forgery(self, journal_of):
        return Forgery(journal_of(with_taking_back))

    def test_is_silent_when_rightly_done(self, forgery):
        assert forgery.breaches() == []

    def test_too_late_is_found(self, forgery):
        forgery.later(forgery.place("taken-back"), 3.5)
        found(forgery, "more than 5 s")

    def test_of_a_later_event_is_found(self, forgery):
        forgery.change(forgery.place("taken-back"), of=forgery.place("job-closed") + 1)
        found(forgery, "which is not before it")

    def test_of_an_earlier_entry_is_found(self, forgery):
        forgery.change(forgery.place("taken-back"), of=forgery.place("hold-started") + 1)
        found(forgery, "takes back")

    def test_of_a_kind_that_cannot_is_found(self, forgery):
        forgery.change(forgery.place("taken-back"), of=forgery.place("photo-taken") + 1)
        found(forgery, "of a kind that cannot be taken back")

    def test_twice_is_found(self, forgery):
        place = forgery.place("taken-back")
        forgery.events.insert(place + 1, forgery.events[place])
        found(forgery, "taken back already")

    def test_of_what_is_needed_leaves_it_owed(self, forgery):
        place = forgery.place("reading-entered", value="0.10") + 1
        forgery.add(place, "taken-back", "press", of=place)
        found(forgery, "without the reading gap")


class TestOpening:
    def test_unknown_format_is_found(self, forgery):
        forgery.change(0, format=2)
        found(forgery, "is of format 2")

    def test_other_device_is_found(self, forgery):
        forgery.change(0, device={"family": "Sample terminal", "model": "S2", "serial": "1"})
        found(forgery, "another device")

    @pytest.mark.parametrize("variant", [None, "cellular"])
    def test_unknown_variant_is_found(self, forgery, variant):
        forgery.change(0, variant=variant)
        found(forgery, "which the step list does not have")

    def test_unknown_caution_is_found(self, forgery):
        forgery.change(forgery.place("caution-acknowledged"), caution="glass")
        found(forgery, "no caution of this variant")

    def test_unknown_item_is_found(self, forgery):
        forgery.change(forgery.place("item-ticked"), item="hammer")
        found(forgery, "not among the tools")

    def test_caution_during_work_is_found(self, forgery):
        place = forgery.place("step-entered", 1)
        forgery.add(place, "caution-acknowledged", "open", caution="cell")
        found(forgery, "before the first step")

    def test_second_ticket_is_found(self, forgery):
        ref = {"sha256": "0" * 64, "bytes": 9, "media_type": "application/json"}
        ticket = {
            "ticket": ref, "signature": ref, "nonce": "n", "issued_at": "t", "depot": "Northquay",
        }  # fmt: skip
        forgery.add(1, "ticket-opened", None, **ticket)
        forgery.add(1, "ticket-opened", None, **ticket)
        found(forgery, "a second ticket")


class TestMoving:
    def test_where_it_comes_from_is_compared(self, forgery):
        forgery.change(forgery.place("step-entered", 1), **{"from": "shut"})
        found(forgery, "the current step is open")

    def test_second_first_step_is_found(self, forgery):
        forgery.change(forgery.place("step-entered", 1), reason="first")
        found(forgery, "not the beginning of the work")

    def test_back_over_two_steps_is_found(self, forgery):
        place = forgery.place("step-entered", -1) + 1
        forgery.add(place, "step-entered", "clean", **{"reason": "back", "from": "shut"})
        found(forgery, "not the step before shut")

    def test_resumed_at_another_step_is_found(self, forgery):
        place = forgery.place("step-entered", -1) + 1
        forgery.add(place, "step-entered", "clean", **{"reason": "resumed", "from": "shut"})
        found(forgery, "than it stood at, shut")

    def test_finding_where_none_is_asked_is_found(self, forgery):
        given = forgery.events[forgery.place("finding-given")].body
        forgery.add(forgery.place("step-entered", 0) + 1, "finding-given", "open", **given)
        found(forgery, "where the step list asks for none")

    def test_work_while_the_job_is_left_is_found(self, forgery):
        forgery.add(forgery.place("hold-started"), "job-left", "press")
        found(forgery, "while the job is left")

    def test_closing_between_a_finding_and_its_stop_is_found(self, stop_forgery):
        closed = stop_forgery.events[-1]
        del stop_forgery.events[stop_forgery.place("repair-stopped") :]
        stop_forgery.events.append(closed)
        found(stop_forgery, "closes before what the finding")

    def test_unknown_stop_rule_is_found(self, stop_forgery):
        stop_forgery.change(stop_forgery.place("repair-stopped"), rule="whim")
        found(stop_forgery, "names the stop rule whim")

    def test_other_reason_than_the_rules_is_found(self, stop_forgery):
        stop_forgery.change(stop_forgery.place("repair-stopped"), reason="Felt like it")
        found(stop_forgery, "another reason")

    def test_name_that_nothing_asks_for_is_found(self, stop_forgery):
        stop_forgery.change(stop_forgery.place("name-given"), role="witness")
        found(stop_forgery, "which nothing asks for")

    def test_blank_name_is_found(self, stop_forgery):
        stop_forgery.change(stop_forgery.place("name-given"), name="  ")
        found(stop_forgery, "a blank name")


class TestShowing:
    def test_note_photo_for_a_wanted_view_is_found(self, forgery):
        forgery.change(forgery.place("photo-taken"), purpose="note")
        found(forgery, "where none can be")

    def test_retake_of_another_view_is_found(self, forgery):
        first = forgery.events[forgery.place("photo-taken")].body["photo"]["sha256"]
        forgery.change(forgery.place("photo-taken", 2), retake_of=first)
        found(forgery, "not the photo for the same view")

    def test_judgement_of_an_unknown_photo_is_found(self, forgery):
        forgery.change(forgery.place("photo-judged"), photo="0" * 64)
        found(forgery, "was not taken before it")

    def test_second_judgement_is_found(self, forgery):
        place = forgery.place("photo-judged")
        forgery.events.insert(place + 1, forgery.events[place])
        found(forgery, "a second time")

    def test_judgement_at_another_step_is_found(self, forgery):
        forgery.change(forgery.place("photo-judged"), step="open")
        found(forgery, "at another step than its photo")

    def test_keeping_a_photo_that_passed_is_found(self, forgery):
        passed = forgery.events[forgery.place("photo-judged", passes=True)]
        place = forgery.place("photo-judged", passes=True) + 1
        forgery.add(place, "photo-kept", passed.step, photo=passed.body["photo"], reason="why not")
        found(forgery, "not found failing")

    @pytest.mark.parametrize(
        ("nth", "wanted", "kind", "words"),
        [
            (0, "slot", "gap", "asks no measurement"),
            (-1, "seam", "mesh", "not of the kind gap"),
        ],
    )
    def test_measurement_that_is_not_asked_is_found(self, forgery, nth, wanted, kind, words):
        taken = forgery.events[forgery.place("photo-taken", nth)]
        forgery.add(
            forgery.place("finding-given", nth), "measured", taken.step,
            photo=taken.body["photo"]["sha256"], wanted=wanted, result={"kind": kind}, markup=None,
        )  # fmt: skip
        found(forgery, words)

    def test_measurement_before_the_judgement_is_found(self, forgery):
        taken = forgery.events[forgery.place("photo-taken", -1)]
        forgery.add(
            forgery.place("photo-taken", -1) + 1, "measured", taken.step,
            photo=taken.body["photo"]["sha256"], wanted="seam", result={"kind": "gap"}, markup=None,
        )  # fmt: skip
        found(forgery, "neither passed nor was kept")

    def test_hold_where_none_is_asked_is_found(self, forgery):
        forgery.add(forgery.place("step-entered") + 1, "hold-started", "open", at_least_s=10)
        found(forgery, "where the step list has none")

    def test_second_hold_in_a_running_one_is_found(self, forgery):
        place = forgery.place("hold-started")
        forgery.events.insert(place, forgery.events[place])
        found(forgery, "is running")

    def test_end_of_a_hold_that_was_not_started_is_found(self, forgery):
        place = forgery.place("hold-ended")
        forgery.events.insert(place, forgery.events[place])
        found(forgery, "not running at this step")

    def test_hold_lost_without_a_restart_is_found(self, forgery):
        forgery.add(forgery.place("hold-ended"), "hold-lost", "press", reason="restart")
        found(forgery, "the machine was not restarted")

    def test_hold_lost_that_was_not_running_is_found(self, forgery):
        forgery.add(forgery.place("hold-started"), "hold-lost", "press", reason="restart")
        found(forgery, "not running at this step")

    def test_reading_that_is_not_asked_for_is_found(self, forgery):
        forgery.change(forgery.place("reading-entered"), reading="mass")
        found(forgery, "not asked for here")

    def test_scan_that_is_not_allowed_is_found(self, forgery):
        forgery.change(forgery.place("reading-entered"), entered_by="scanned")
        found(forgery, "was scanned")


class TestTelling:
    def test_note_started_twice_is_found(self, forgery):
        place = forgery.place("note-started")
        forgery.events.insert(place, forgery.events[place])
        found(forgery, "a second time")

    def test_two_notes_at_once_are_found(self, forgery):
        place = forgery.place("note-recorded")
        forgery.add(place, "note-started", "clean", note="note-2", photo=None)
        found(forgery, "while another is being recorded")

    def test_note_recorded_twice_is_found(self, forgery):
        place = forgery.place("note-recorded")
        forgery.events.insert(place, forgery.events[place])
        found(forgery, "a second time")

    def test_note_bound_to_another_photo_is_found(self, forgery):
        sha = forgery.events[forgery.place("photo-taken")].body["photo"]["sha256"]
        forgery.change(forgery.place("note-recorded"), photo=sha)
        found(forgery, "to another photo")

    def test_note_at_another_rate_is_found(self, forgery):
        forgery.change(forgery.place("note-recorded"), rate=8000)
        found(forgery, "notes are at 16000")

    def test_note_at_another_step_is_found(self, forgery):
        forgery.change(forgery.place("note-recorded"), step="open")
        found(forgery, "at another step than its note")

    def test_loss_of_a_recorded_note_is_found(self, forgery):
        place = forgery.place("note-recorded") + 1
        forgery.add(place, "note-lost", "clean", note="note-1", reason="no sound")
        found(forgery, "which was not being recorded")

    def test_transcript_without_sound_is_found(self, forgery):
        forgery.add(
            forgery.place("note-recorded"), "transcript-made", "clean",
            note="note-1", text="words", engine={"name": "listener", "version": "1"},
        )  # fmt: skip
        found(forgery, "of which no sound is recorded")

    def test_correction_of_no_transcript_is_found(self, forgery):
        place = forgery.place("note-recorded") + 1
        forgery.add(place, "transcript-corrected", "clean", note="note-1", text="words")
        found(forgery, "which has none")

    def test_correction_of_a_later_event_is_found(self, forgery):
        forgery.add(3, "corrected", None, of=9, text="wrong")
        found(forgery, "which is not before it")
