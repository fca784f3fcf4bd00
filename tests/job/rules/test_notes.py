"""Notes, transcripts, corrections and device reports, before and after."""

import numpy as np
import pytest
import soundfile

from evidence_app.devices.watch import DeviceLost, DeviceReturned
from evidence_app.errors import Refused
from evidence_app.job import commands as c
from evidence_app.sentence import Sentence
from evidence_app.voice.note.recorder import NoteRecorder


@pytest.fixture
def cleaning(bench):
    bench.work_to("clean")
    return bench


def test_note_is_kept_byte_for_byte_with_its_length(cleaning):
    (started,) = cleaning.do(c.StartNote())
    sound = cleaning.sound(1.5)
    (recorded,) = cleaning.do(c.FinishNote(started.body["note"], sound, 1.5))
    assert recorded.body["seconds"] == 1.5
    assert cleaning.job.record.path_of(recorded.body["audio"]["sha256"]).read_bytes() == sound


def test_length_is_that_of_the_sound_not_what_was_claimed(cleaning):
    (started,) = cleaning.do(c.StartNote())
    (recorded,) = cleaning.do(c.FinishNote(started.body["note"], cleaning.sound(1), 60))
    assert recorded.body["seconds"] == 1


def test_note_can_be_added_while_preparing(bench):
    bench.say()
    assert bench.last("note-recorded").step is None


def test_note_stays_with_the_step_at_which_it_was_begun(cleaning):
    (started,) = cleaning.do(c.StartNote())
    cleaning.do(c.GoBack())
    (recorded,) = cleaning.do(c.FinishNote(started.body["note"], cleaning.sound(), 1))
    assert recorded.step == "clean"


def test_note_is_bound_to_its_photo(cleaning):
    sha = cleaning.photo("slot")
    (started,) = cleaning.do(c.StartNote(photo=sha))
    (recorded,) = cleaning.do(c.FinishNote(started.body["note"], cleaning.sound(), 1))
    assert recorded.body["photo"] == sha


def test_note_on_an_unknown_photo_is_refused(cleaning):
    with pytest.raises(Refused, match="no photo"):
        cleaning.do(c.StartNote(photo="0" * 64))


def test_second_note_waits_for_the_first(cleaning):
    cleaning.do(c.StartNote())
    with pytest.raises(Refused, match="recorded already"):
        cleaning.do(c.StartNote())


@pytest.mark.parametrize("command", [c.Close(), c.Abandon("no longer wanted"), c.Leave()])
def test_job_does_not_end_while_a_note_is_recorded(cleaning, command):
    cleaning.do(c.StartNote())
    with pytest.raises(Refused, match="End the note first"):
        cleaning.do(command)


def test_note_without_sound_is_lost_and_frees_the_microphone(cleaning):
    (started,) = cleaning.do(c.StartNote())
    (lost,) = cleaning.do(c.FinishNote(started.body["note"], None, 0))
    assert lost.kind == "note-lost"
    cleaning.say()
    assert [note.heard for note in cleaning.job.state.notes] == ["lost", "recorded"]


def test_sound_that_is_no_flac_is_refused_and_the_note_stays_open(cleaning):
    (started,) = cleaning.do(c.StartNote())
    with pytest.raises(Refused, match="cannot be read"):
        cleaning.do(c.FinishNote(started.body["note"], b"noise", 1))
    assert cleaning.job.state.open_note.id == started.body["note"]


def test_sound_at_another_rate_is_refused(cleaning, tmp_path):
    path = tmp_path / "note.flac"
    soundfile.write(path, np.zeros(8000, np.int16), 8000)
    (started,) = cleaning.do(c.StartNote())
    with pytest.raises(Refused, match="8000 Hz"):
        cleaning.do(c.FinishNote(started.body["note"], path, 1))


def test_recorders_files_go_when_the_journal_has_the_note(cleaning):
    (started,) = cleaning.do(c.StartNote())
    note = started.body["note"]
    scratch = cleaning.job.record.scratch
    recorder = NoteRecorder(scratch, note, "clean", None, {"wall": started.wall})
    recorder.write(np.ones(16_000, np.int16))
    done = recorder.finish()
    cleaning.do(c.FinishNote(note, done.flac, done.seconds))
    assert list(scratch.iterdir()) == []


@pytest.mark.parametrize("text", ["", "  ", "x" * 5000, "half a pair \ud800"])
def test_written_note_that_says_nothing_or_too_much_is_refused(cleaning, text):
    with pytest.raises(Refused):
        cleaning.do(c.WriteNote(text))


def test_transcript_names_its_engine_and_stays_beside_the_sound(cleaning):
    note = cleaning.say()
    (made,) = cleaning.do(c.AddTranscript(note, "residue in the slot", "listener", "0.1"))
    assert made.body["engine"] == {"name": "listener", "version": "0.1"}
    assert cleaning.job.state.note(note).audio is not None


def test_corrected_transcript_is_a_new_event(cleaning):
    note = cleaning.say()
    cleaning.do(
        c.AddTranscript(note, "the sea in the slot", "listener", "0.1"),
        c.CorrectTranscript(note, "residue in the slot"),
    )
    assert cleaning.last("transcript-made").body["text"] == "the sea in the slot"
    assert cleaning.job.state.note(note).transcript == "residue in the slot"


def test_transcript_of_a_note_without_sound_is_refused(cleaning):
    (started,) = cleaning.do(c.StartNote())
    with pytest.raises(Refused, match="no recorded note"):
        cleaning.do(c.AddTranscript(started.body["note"], "words", "listener", "0.1"))


def test_correction_points_at_its_event(cleaning):
    (event,) = cleaning.do(c.Correct(1, "The serial number ends in 2"))
    assert event.body == {"of": 1, "text": "The serial number ends in 2"}


@pytest.mark.parametrize("of", [0, -1, 999])
def test_correction_of_an_event_that_is_not_there_is_refused(cleaning, of):
    with pytest.raises(Refused, match="no event"):
        cleaning.do(c.Correct(of, "wrong"))


def test_lost_device_is_recorded_and_work_goes_on(cleaning):
    cleaning.do(
        c.ReportDevice(DeviceLost("camera", "bench camera", Sentence("unplugged"))),
        c.ReportDevice(DeviceReturned("camera", "bench camera", 12.5)),
    )
    assert cleaning.last("device-returned").body["away_s"] == 12.5


def test_time_away_that_is_no_length_is_refused(cleaning):
    with pytest.raises(Refused, match="away"):
        cleaning.do(c.ReportDevice(DeviceReturned("camera", "bench camera", float("inf"))))
