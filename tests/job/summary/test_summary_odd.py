"""No journal is too odd to be summed up, and the record is canonical."""

from __future__ import annotations

import json

import msgspec
import pytest
from hypothesis import given, settings

from evidence_app.job.summary.summarise import summarise, to_bytes
from evidence_app.record.event import Draft, Event
from tests.job.bench import SOURCE
from tests.job.summary.odd_journals import journal, odd_drafts
from tests.job.summary.summing import STEPS, step_of, stop_at_the_slot, summary_of


@pytest.fixture
def stopped(bench):
    stop_at_the_slot(bench)
    return bench


# --- every event, and odd ones -----------------------------------------------------------------------


def test_every_event_has_a_line(stopped):
    events = stopped.job.record.events
    assert [line.sequence for line in summary_of(stopped).timeline] == [event.sequence for event in events]


def test_unknown_kind_is_listed_with_its_content():
    summary = summarise(STEPS, journal(Draft("lamp-lit", {"colour": "violet"})))
    assert "violet" in str(summary.timeline[0].sentence)
    assert [odd.kind for odd in summary.unplaced] == ["lamp-lit"]


def test_judgement_of_a_photo_never_taken_is_listed():
    body = {"photo": "ab" * 32, "passes": True, "checks": []}
    summary = summarise(STEPS, journal(Draft("photo-judged", body, "clean")))
    assert "not taken before" in str(summary.unplaced[0].sentence)


def test_photo_at_a_step_of_no_list_is_shown():
    photo = {"sha256": "cd" * 32, "bytes": 9, "media_type": "image/jpeg"}
    body = {"photo": photo, "wanted": None, "purpose": "note", "width": 1, "height": 1,
            "source": SOURCE, "retake_of": None}  # fmt: skip
    summary = summarise(STEPS, journal(Draft("photo-taken", body, "elsewhere")))
    assert [p.original.sha256 for p in step_of(summary, "elsewhere").photos] == ["cd" * 32]
    assert step_of(summary, "elsewhere").number is None


@settings(max_examples=150, deadline=None)
@given(odd_drafts)
def test_no_readable_journal_is_too_odd(drafts):
    events = journal(*drafts)
    summary = summarise(STEPS, events)
    assert len(summary.timeline) == len(events)
    json.loads(to_bytes(summary))


def test_nothing_at_all_can_be_summed_up():
    assert summarise(STEPS, ()).outcome.outcome == "open"


# --- record.json -----------------------------------------------------------------------------------------


def test_record_is_canonical_json(stopped):
    data = to_bytes(summary_of(stopped))
    again = json.dumps(json.loads(data), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    # Keys here are ASCII, so sorting by code point is RFC 8785's order; no number here
    # is written differently by the two.
    assert data == again.encode()


def test_same_journal_gives_the_same_bytes(stopped):
    again = [msgspec.convert(msgspec.to_builtins(e), Event) for e in stopped.job.record.events]
    assert to_bytes(summarise(STEPS, again)) == to_bytes(summary_of(stopped))


def test_every_fact_of_the_summary_is_in_the_record(stopped):
    summary = summary_of(stopped)
    record = json.loads(to_bytes(summary))
    assert record["stop"]["disposition"] == summary.stop.disposition
    assert len(record["timeline"]) == len(summary.timeline)
