"""Leaving and taking up again at the exact step, also after the app has died.

A death of the app is played by letting go of the record without a word. Killing
the process at random moments is another test.
"""

import numpy as np
import pytest

from evidence_app.errors import JobInUse, RecordError, Refused
from evidence_app.job import commands as c
from evidence_app.job.running.guide import Job
from evidence_app.job.state.fold import fold
from evidence_app.practice.clock import PracticeClock
from evidence_app.record.clock import SystemClock
from evidence_app.record.record import Record
from evidence_app.voice.note.recorder import NoteRecorder
from tests.job.bench import SOURCE, STEP_LIST


class Died(Exception):
    """The process ends at this event."""


def die_before(monkeypatch, kind):
    """The record takes nothing more from the first event of ``kind`` on."""
    append = Record.append

    def until(self, draft):
        if draft.kind == kind:
            raise Died
        return append(self, draft)

    monkeypatch.setattr(Record, "append", until)


def revive(monkeypatch, bench):
    monkeypatch.undo()
    return bench.resume()


@pytest.mark.parametrize("step", ["open", "clean", "press", "inspect", "shut"])
def test_job_goes_on_at_the_exact_step(bench, step):
    bench.work_to(step)
    bench.do(c.Leave())
    assert bench.resume().step.id == step


def test_job_goes_on_while_preparing(bench):
    bench.do(c.AcknowledgeCaution("cell"))
    assert [owed.kind for owed in bench.resume().owed] == ["item"] * 3


def test_what_is_owed_is_the_same_after_a_death(bench):
    bench.work_to("press")
    bench.hold()
    owed = bench.job.owed
    assert bench.resume().owed == owed


def test_leaving_and_resuming_are_events_at_the_step(bench):
    bench.work_to("press")
    bench.do(c.Leave())
    bench.resume()
    assert [(e.kind, e.step) for e in bench.job.record.events[-2:]] == [
        ("job-left", "press"),
        ("job-resumed", "press"),
    ]


def test_job_that_was_left_takes_no_command(bench):
    bench.do(c.Leave())
    with pytest.raises(Refused, match="Resume it first"):
        bench.do(c.WriteNote("one more thing"))


def test_photo_that_was_not_judged_is_judged(bench, photos, monkeypatch):
    bench.work_to("clean")
    die_before(monkeypatch, "photo-judged")
    with pytest.raises(Died):
        bench.do(c.TakePhoto(photos.sharp(), "slot", "checkpoint", SOURCE))
    revive(monkeypatch, bench)
    assert bench.kinds()[-3:] == ["photo-taken", "job-resumed", "photo-judged"]
    assert [owed.kind for owed in bench.job.owed] == ["finding"]


def test_redo_that_a_finding_led_to_is_made_up_for(bench, monkeypatch):
    bench.work_to("inspect")
    bench.settle()
    die_before(monkeypatch, "step-entered")
    with pytest.raises(Died):
        bench.do(c.GiveFinding("not-clear"))
    assert revive(monkeypatch, bench).step.id == "press"
    assert bench.breaches() == []


def test_stop_that_a_finding_led_to_is_made_up_for(bench, monkeypatch):
    bench.work_to("clean")
    bench.settle()
    die_before(monkeypatch, "repair-stopped")
    with pytest.raises(Died):
        bench.do(c.GiveFinding("not-clear"))
    assert revive(monkeypatch, bench).state.phase == "stopped"
    assert bench.breaches() == []


def test_note_cut_off_is_finished_from_what_was_recorded(bench):
    bench.work_to("clean")
    (started,) = bench.do(c.StartNote())
    note = started.body["note"]
    recorder = NoteRecorder(bench.job.record.scratch, note, "clean", None, {"wall": started.wall})
    recorder.write(np.ones(16_000, np.int16))
    while recorder.seconds < 1:
        pass
    bench.resume()
    recorded = bench.last("note-recorded")
    assert (recorded.body["note"], recorded.body["cut_short"]) == (note, True)
    assert (recorded.body["seconds"], recorded.step) == (1, "clean")
    assert list(bench.job.record.scratch.iterdir()) == []


def test_note_recorded_before_the_death_is_not_recorded_again(bench, monkeypatch):
    bench.work_to("clean")
    (started,) = bench.do(c.StartNote())
    note = started.body["note"]
    recorder = NoteRecorder(bench.job.record.scratch, note, "clean", None, {"wall": started.wall})
    recorder.write(np.ones(16_000, np.int16))
    done = recorder.finish()
    monkeypatch.setattr("evidence_app.voice.note.recorder.clear", lambda *_: None)
    bench.do(c.FinishNote(note, done.flac, done.seconds))
    revive(monkeypatch, bench)
    assert bench.kinds().count("note-recorded") == 1
    assert list(bench.job.record.scratch.iterdir()) == []


def test_note_without_any_sound_is_recorded_as_lost(bench):
    bench.work_to("clean")
    bench.do(c.StartNote())
    bench.resume()
    assert bench.last("note-lost").step == "clean"
    assert bench.job.state.open_note is None


def test_damaged_sound_does_not_keep_the_job_from_going_on(bench):
    bench.work_to("clean")
    (started,) = bench.do(c.StartNote())
    damaged = bench.job.record.scratch / f"{started.body['note']}.flac"
    damaged.write_bytes(b"fLaC and nothing more")
    bench.resume()
    assert bench.kinds()[-1] == "note-lost"
    assert damaged.exists()


def test_file_of_an_unknown_note_is_left_alone(bench):
    stray = bench.job.record.scratch / "note-77.json"
    stray.write_bytes(b"{}")
    bench.resume()
    assert stray.exists()


def test_measurement_that_was_missed_is_made_up_for(bench, monkeypatch):
    result = {
        "kind": "gap", "unit": "mm", "value": 0.1, "U": 0.02, "conformity": "within",
        "method": "m", "sentence": "s.",
    }  # fmt: skip
    bench.work_to("inspect")
    bench.photo("strip")
    seam = bench.photo("seam")
    if not bench.job.state.photo(seam).settled:
        bench.do(c.KeepPhoto(seam, "the part is in view"))
    bench.settings["measure"] = lambda data, wanted, reference, second: (result, None)
    bench.resume()
    assert bench.last("measured").body["result"] == result


def test_closed_job_is_opened_as_it_is(bench):
    bench.work_to("shut")
    bench.do(c.Close())
    head = bench.job.record.head
    assert bench.resume().record.head == head


def test_altered_step_list_is_refused(bench):
    sha = bench.job.state.opened.step_list.sha256
    path = bench.job.record.path_of(sha)
    bench.job.close()
    path.chmod(0o644)
    path.write_bytes(STEP_LIST.replace(b"at-least-s = 10", b"at-least-s = 1 "))
    with pytest.raises(RecordError, match="altered"):
        Job.resume(bench.folder, bench.clock)


def test_job_open_elsewhere_is_named(bench):
    with pytest.raises(JobInUse):
        Job.resume(bench.folder, bench.clock)


def test_real_job_is_not_taken_up_with_a_practice_clock(folder, step_list_bytes, clock):
    job = Job.open(
        folder, step_list_bytes, "plain", "H7-0001", "C-77", "M. Okafor-Lind", False, SystemClock()
    )
    job.close()
    with pytest.raises(Refused, match="practice clock"):
        Job.resume(folder, PracticeClock("2026-03-02T08:00:00.000+01:00"))


def test_practice_photo_is_refused_in_a_real_job(folder, step_list_bytes, photos):
    with Job.open(
        folder, step_list_bytes, "plain", "H7-0001", "C-77", "M. Okafor-Lind", False, SystemClock()
    ) as job:
        with pytest.raises(Refused, match="practice camera"):
            job.do(c.TakePhoto(photos.sharp(), None, "note", SOURCE))
        job.do(c.TakePhoto(photos.sharp(), None, "note", {"kind": "camera", "name": "bench camera"}))


def test_state_is_what_the_journal_gives(bench):
    bench.work_to("shut")
    assert fold(bench.job.record.events) == bench.job.state
