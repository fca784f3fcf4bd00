"""Forged photos, holds, readings and notes are found."""

import pytest

from tests.job.bench import MEASURED
from tests.job.conduct.forgery import found


class TestShowing:
    def test_note_photo_for_a_wanted_view_is_found(self, forgery):
        forgery.change(forgery.place("photo-taken"), purpose="note")
        found(forgery, "where none can be", "which was not the photo for the same view")

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
        [(0, "slot", "gap", "asks no measurement"), (-1, "seam", "mesh", "not of the kind gap")],
    )
    def test_measurement_that_is_not_asked_is_found(self, forgery, nth, wanted, kind, words):
        taken = forgery.events[forgery.place("photo-taken", nth)]
        if wanted == "seam":
            del forgery.events[forgery.place("measured")]
        forgery.add(
            forgery.place("finding-given", nth), "measured", taken.step,
            photo=taken.body["photo"]["sha256"], wanted=wanted, result=MEASURED | {"kind": kind}, markup=None,
        )  # fmt: skip
        found(forgery, words)

    def test_measurement_before_the_judgement_is_found(self, forgery):
        taken = forgery.events[forgery.place("photo-taken", -1)]
        del forgery.events[forgery.place("measured")]
        forgery.add(
            forgery.place("photo-taken", -1) + 1, "measured", taken.step,
            photo=taken.body["photo"]["sha256"], wanted="seam", result=MEASURED, markup=None,
        )  # fmt: skip
        found(forgery, "neither passed nor was kept")

    @pytest.mark.parametrize("named", [None, 1.01])
    def test_scale_card_other_than_the_one_named_is_found(self, forgery, named):
        taken = forgery.events[forgery.place("photo-taken", -1)]
        card = {"serial": "NQ-7", "scale": 1.0, "scale_u": 0.001, "thickness_mm": 0.5,
                "thickness_u_mm": 0.05}  # fmt: skip
        del forgery.events[forgery.place("measured")]
        place = forgery.place("finding-given", -1)
        forgery.add(
            place, "measured", taken.step, photo=taken.body["photo"]["sha256"], wanted="seam",
            result=MEASURED | {"card": card | {"confirmed": True}}, markup=None,
        )  # fmt: skip
        if named is not None:
            forgery.add(place, "scale-card-named", taken.step, **card | {"scale": named})
        found(forgery, "relies on a scale card other than the one named before it")

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
        found(
            forgery,
            "not running at this step",
            "leaves the step press without the hold",
            "says completed, but the step press lacks the hold",
        )

    def test_hold_lost_without_a_restart_is_found(self, forgery):
        forgery.add(forgery.place("hold-ended"), "hold-lost", "press", reason="restart")
        found(
            forgery,
            "the machine was not restarted",
            "ends a hold that was not running at this step",
            "leaves the step press without the hold",
            "says completed, but the step press lacks the hold",
        )

    def test_hold_lost_that_was_not_running_is_found(self, forgery):
        forgery.add(forgery.place("hold-started"), "hold-lost", "press", reason="restart")
        found(forgery, "not running at this step")

    def test_reading_that_is_not_asked_for_is_found(self, forgery):
        forgery.change(forgery.place("reading-entered"), reading="mass")
        found(
            forgery,
            "not asked for here",
            "leaves the step press without the reading gap",
            "says completed, but the step press lacks the reading gap",
        )

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
        found(forgery, "while another is being recorded", "closes while a voice note is being recorded")

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
