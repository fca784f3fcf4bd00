"""A job killed by SIGKILL again and again: nothing that was committed is lost."""

from __future__ import annotations

import pytest

from tests.kill.killing import judge, kill_often

KILLS = 12


@pytest.fixture(scope="module")
def aftermath(tmp_path_factory):
    folder = tmp_path_factory.mktemp("killed")
    told = kill_often(folder / "job", KILLS, seed=20260302)
    return told, judge(folder / "job", folder / "out", told)


def test_the_worker_had_committed_photos_and_notes(aftermath):
    told, left = aftermath
    assert told.kills == KILLS and left.photos > KILLS and left.notes > 0


def test_no_committed_event_is_lost_or_changed(aftermath):
    assert aftermath[1].lost_events == []


def test_the_chain_is_whole(aftermath):
    assert aftermath[1].chain == []


def test_every_original_is_as_it_was(aftermath):
    assert aftermath[1].damaged == []


def test_a_note_loses_at_most_its_last_second(aftermath):
    assert aftermath[1].short_notes == []


def test_the_package_holds(aftermath):
    assert aftermath[1].verified.failed == ()
