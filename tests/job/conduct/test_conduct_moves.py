"""Forged openings, moves, stops and takings back are found."""

import pytest

from tests.job.conduct.forgery import Forgery, found, with_taking_back


class TestOpening:
    def test_unknown_format_is_found(self, forgery):
        forgery.change(0, format=2)
        found(forgery, "is of format 2")

    def test_other_device_is_found(self, forgery):
        forgery.change(0, device={"family": "Sample terminal", "model": "S2", "serial": "1"})
        found(forgery, "another unit")

    @pytest.mark.parametrize("variant", [None, "cellular"])
    def test_unknown_variant_is_found(self, forgery, variant):
        forgery.change(0, variant=variant)
        found(forgery, "which the step list does not have")

    def test_unknown_caution_is_found(self, forgery):
        forgery.change(forgery.place("caution-acknowledged"), caution="glass")
        found(forgery, "no caution of this variant", "begins the work without cell")

    def test_unknown_item_is_found(self, forgery):
        forgery.change(forgery.place("item-ticked"), item="hammer")
        found(forgery, "not among the tools", "begins the work without roller")

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
        found(forgery, "not the step before shut", "says completed before the last step")

    def test_resumed_at_another_step_is_found(self, forgery):
        place = forgery.place("step-entered", -1) + 1
        forgery.add(place, "step-entered", "clean", **{"reason": "resumed", "from": "shut"})
        found(forgery, "than it was paused at, shut", "says completed before the last step")

    def test_finding_where_none_is_asked_is_found(self, forgery):
        given = forgery.events[forgery.place("finding-given")].body
        forgery.add(forgery.place("step-entered", 0) + 1, "finding-given", "open", **given)
        found(forgery, "where the step list asks for none")

    def test_work_while_the_job_is_left_is_found(self, forgery):
        forgery.add(forgery.place("hold-started"), "job-left", "press")
        found(forgery, "while the job is paused")

    def test_closing_between_a_finding_and_its_stop_is_found(self, stop_forgery):
        closed = stop_forgery.events[-1]
        del stop_forgery.events[stop_forgery.place("repair-stopped") :]
        stop_forgery.events.append(closed)
        found(
            stop_forgery,
            "closes before what the finding",
            "comes where the finding of event 10 leads elsewhere",
            "says stopped, although the repair was not stopped",
        )

    def test_unknown_stop_rule_is_found(self, stop_forgery):
        stop_forgery.change(stop_forgery.place("repair-stopped"), rule="whim")
        found(
            stop_forgery,
            "names the stop rule whim",
            "stops under whim by finding, which nothing before it leads to",
            "is for reason, which is not wanted here",
            "gives the name of a supervisor, which nothing asks for",
        )

    def test_other_reason_than_the_rules_is_found(self, stop_forgery):
        stop_forgery.change(stop_forgery.place("repair-stopped"), reason="Felt like it")
        found(stop_forgery, "another reason")

    def test_name_that_nothing_asks_for_is_found(self, stop_forgery):
        stop_forgery.change(stop_forgery.place("name-given"), role="witness")
        found(
            stop_forgery,
            "which nothing asks for",
            "closes the stopped job without the name of the supervisor",
        )

    def test_blank_name_is_found(self, stop_forgery):
        stop_forgery.change(stop_forgery.place("name-given"), name="  ")
        found(stop_forgery, "a blank name", "closes the stopped job without the name of the supervisor")


class TestTakingBack:
    """Forged in a job whose last entry at a step can be taken back."""

    @pytest.fixture
    def forgery(self, journal_of):
        return Forgery(journal_of(with_taking_back))

    def test_is_silent_when_rightly_done(self, forgery):
        assert forgery.breaches() == []

    def test_too_late_is_found(self, forgery):
        forgery.later(forgery.place("taken-back"), 3.5)
        found(forgery, "more than 5 s", "says 16 s were held; the clock shows 19.5 s")

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
        found(forgery, "without the reading gap", "lacks the reading gap")
