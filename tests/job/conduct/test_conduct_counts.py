"""Forged counts are found: the check sums up what came out and went in by itself."""

from __future__ import annotations

import pytest

from evidence_app.job import commands as c
from evidence_app.practice.clock import PracticeClock
from tests.job.bench import Bench, Photos
from tests.job.conduct.forgery import Forgery, found
from tests.job.counted import counted_list


@pytest.fixture(scope="module")
def counted(tmp_path_factory):
    """A completed job: three screws out for a reason, four in for another."""
    bench = Bench(tmp_path_factory.mktemp("counted") / "job", PracticeClock("2026-03-02T08:00:00.000+01:00"),
                  Photos())  # fmt: skip
    with bench.open(step_list=counted_list()) as job:
        bench.work_to("open")
        bench.do(c.CountPieces("screws", 3, "one was missing when it came"))
        bench.work_to("shut")
        bench.do(c.CountPieces("rollers", 1), c.CountPieces("screws", 4, "the fourth is new", "one M2 × 5"))
        bench.do(c.Close())
        return job.step_list, job.record.events


@pytest.fixture
def forged(counted):
    return Forgery(counted)


def screws(forged, nth):
    return forged.place("pieces-counted", nth, thing="screws")


def test_the_true_journal_obeys(forged):
    assert forged.breaches() == []


def test_a_count_left_out_is_found(forged):
    forged.leave_out(screws(forged, 0))
    found(
        forged,
        "leaves the step open without the count of screws",
        "the step open lacks the count of screws",
    )


def test_a_changed_count_without_a_reason_is_found(forged):
    forged.change(screws(forged, 0), count=2, reason=None)
    found(forged, "counts 2 where 4 are listed, without a reason")


def test_a_balance_that_no_reason_explains_is_found(forged):
    forged.change(screws(forged, 1), reason=None, other=None)
    found(forged, "lacks a reason why screws does not balance")


def test_another_kind_without_a_reason_is_found(forged):
    forged.change(screws(forged, 0), count=4, reason=None)
    forged.change(screws(forged, 1), reason=None)
    found(forged, "counts pieces of another kind without a reason")


def test_a_reason_that_says_nothing_is_found(forged):
    forged.change(screws(forged, 0), reason="?")
    found(forged, "gives a reason that says nothing", "counts 3 where 4 are listed")


@pytest.mark.parametrize("thing", ["nails", "rings"])
def test_a_thing_that_is_not_counted_here_is_found(forged, thing):
    forged.change(screws(forged, 0), thing=thing)
    found(forged, f"counts {thing}, which the step list does not count here", "the count of screws")


def test_the_other_way_is_found(forged):
    forged.change(screws(forged, 0), goes="in")
    found(forged, "counts screws the other way", "the count of screws")


def test_a_count_at_another_step_is_found(forged):
    place = screws(forged, 0)
    forged.change(place, step="clean")
    found(forged, "is recorded at another step", "does not count here", "the count of screws")


def test_more_than_can_be_counted_is_found(forged):
    forged.change(screws(forged, 0), count=1000)
    found(forged, "does not have the form of its kind", "numbers must go up", "the count of screws")


def test_a_photo_that_was_not_taken_is_found(forged):
    forged.change(screws(forged, 0), photo="0" * 64)
    found(forged, "was not taken before it")


def test_a_stop_for_a_piece_that_is_not_missing_is_found(forged):
    rule = next(r for r in forged.step_list.stop_rules if r.id == "piece-gone")
    place = screws(forged, 0)
    forged.events[place + 1 :] = []
    forged.change(place, count=4, reason=None)
    forged.add(place + 1, "repair-stopped", "open", rule=rule.id, by="count", reason=rule.reason,
               disposition=rule.disposition, prohibitions=[])  # fmt: skip
    found(
        forged,
        "stops under piece-gone by count, which nothing before it leads to",
        "without the job being closed",
    )
