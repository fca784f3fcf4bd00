"""Opening a job: what is recorded first, and what is refused before anything is."""

import hashlib
import os
import shutil

import pytest

from evidence_app.errors import EvidenceError, RecordError, Refused, StepListError
from evidence_app.job.running.guide import Job
from evidence_app.job.running.opening import peek
from evidence_app.record.clock import SystemClock
from evidence_app.record.record import Record

ENTRIES = {
    "variant": "plain",
    "serial": "H7-0001",
    "claim": "C-77",
    "technician": "M. Okafor-Lind",
    "practice": True,
}


def opened(folder, data, clock, **changes):
    return Job.open(folder, data, clock=clock, **(ENTRIES | changes))


def test_first_event_names_the_step_list_by_its_hash(bench, step_list_bytes):
    first = bench.job.record.events[0]
    named = first.body["step_list"]
    assert first.kind == "job-opened"
    assert named["sha256"] == hashlib.sha256(step_list_bytes).hexdigest()
    assert bench.job.record.path_of(named["sha256"]).read_bytes() == step_list_bytes


def test_job_says_when_it_is_timed_by_a_practice_clock(bench):
    assert bench.job.record.events[0].body["clock"] == "practice"


def test_job_says_when_it_is_timed_by_the_machine(folder, step_list_bytes):
    with opened(folder, step_list_bytes, SystemClock(), practice=False) as job:
        assert job.record.events[0].body["clock"] == "system"


def test_practice_clock_is_refused_for_a_real_job(folder, step_list_bytes, clock):
    with pytest.raises(Refused, match="practice clock"):
        opened(folder, step_list_bytes, clock, practice=False)


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"variant": None}, EvidenceError),
        ({"variant": "cellular"}, EvidenceError),
        ({"serial": "  "}, Refused),
        ({"claim": ""}, Refused),
        ({"technician": "two\nlines"}, Refused),
        ({"serial": "9" * 500}, Refused),
    ],
)
def test_wrong_entry_leaves_no_folder_behind(folder, step_list_bytes, clock, changes, error):
    with pytest.raises(error):
        opened(folder, step_list_bytes, clock, **changes)
    assert not folder.exists()


def test_wrong_step_list_leaves_no_folder_behind(folder, clock):
    with pytest.raises(StepListError):
        opened(folder, b"format = 1", clock)
    assert not folder.exists()


def test_opening_interrupted_before_the_first_event_is_said_to_lose_nothing(folder, clock):
    Record.create(folder, clock).close()
    with pytest.raises(RecordError, match="interrupted before anything was recorded"):
        Job.resume(folder, clock)


@pytest.mark.parametrize("left", ["journal.db.new", "originals/"])
def test_opening_interrupted_before_the_journal_is_said_to_lose_nothing(folder, clock, left):
    folder.mkdir()
    (folder / left).mkdir() if left.endswith("/") else (folder / left).touch()
    with pytest.raises(RecordError, match="interrupted before anything was recorded"):
        Job.resume(folder, clock)
    Record.create(folder, clock).close()


def test_peek_tells_where_a_job_stands_without_an_event(bench):
    bench.work_to("clean")
    before = bench.job.record.head
    bench.job.close()
    step_list, state = peek(bench.folder)
    assert (step_list.id, state.phase, state.step) == ("bench-sample", "working", "clean")
    with Record.open(bench.folder, bench.clock) as record:
        assert record.head == before


@pytest.mark.parametrize("left", [0, 3000])
def test_a_truncated_journal_is_never_said_to_have_been_empty(bench, left):
    bench.work_to("clean")
    bench.photo("slot")
    bench.job.close()
    os.truncate(bench.folder / "journal.db", left)
    with pytest.raises(RecordError, match="nothing in the folder was altered"):
        peek(bench.folder)


def test_photos_beside_an_empty_journal_are_not_set_aside(bench, tmp_path):
    bench.work_to("clean")
    bench.photo("slot")
    bench.job.close()
    Record.create(tmp_path / "other", bench.clock).close()
    shutil.copyfile(tmp_path / "other" / "journal.db", bench.folder / "journal.db")
    before = sorted(bench.folder.rglob("*"))
    for take_up in (peek, lambda folder: Job.resume(folder, bench.clock)):
        with pytest.raises(RecordError, match="holds no event"):
            take_up(bench.folder)
    assert sorted(bench.folder.rglob("*")) == before
