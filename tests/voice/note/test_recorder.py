"""A voice note from its first block to the FLAC that the journal takes."""

from __future__ import annotations

import subprocess
import sys
import time

import numpy as np
import pytest
import soundfile

from evidence_app.devices.microphone import RATE
from evidence_app.errors import RecordError
from evidence_app.voice.note.recorder import NoteRecorder, clear, recover_notes
from tests.voice.conftest import STARTED, blocks_of


def record(scratch, sound, note="n1", **more):
    recorder = NoteRecorder(scratch, note, "press-mesh", "ab" * 32, STARTED, **more)
    for block in blocks_of(sound):
        recorder.write(block)
    return recorder


def test_flac_is_what_was_said_bit_for_bit(scratch, sound):
    note = record(scratch, sound).finish()
    samples, rate = soundfile.read(note.flac, dtype="int16")
    assert np.array_equal(samples, sound)
    assert (rate, soundfile.info(note.flac).subtype, note.seconds) == (RATE, "PCM_16", 5.0)


@pytest.mark.parametrize("kind", ["full-scale noise", "silence", "one sample"])
def test_extreme_sound_is_kept_bit_for_bit(scratch, kind):
    loud = np.random.default_rng(5).integers(-32768, 32768, 3 * RATE).astype(np.int16)
    sound = {"full-scale noise": loud, "silence": loud * 0, "one sample": loud[:1]}[kind]
    note = record(scratch, sound).finish()
    assert np.array_equal(soundfile.read(note.flac, dtype="int16")[0], sound)


def test_note_is_bound_to_step_photo_and_start(scratch, sound):
    note = record(scratch, sound).finish()
    assert (note.note, note.step, note.photo, note.started) == ("n1", "press-mesh", "ab" * 32, STARTED)
    assert (note.cut_short, note.problem) == (False, None)


def test_only_flac_and_binding_are_left_when_finished(scratch, sound):
    record(scratch, sound).finish()
    assert sorted(path.name for path in scratch.iterdir()) == ["n1.flac", "n1.json"]


def test_nothing_is_left_when_cleared(scratch, sound):
    record(scratch, sound).finish()
    clear(scratch, "n1")
    assert list(scratch.iterdir()) == []


def test_clearing_one_note_keeps_another(scratch, sound):
    record(scratch, sound, "n1").finish()
    record(scratch, sound, "n11").finish()
    clear(scratch, "n1")
    assert [note.note for note in recover_notes(scratch)] == ["n11"]


def test_finishing_twice_gives_the_same_note(scratch, sound):
    recorder = record(scratch, sound)
    assert recorder.finish() == recorder.finish()


def test_blocks_after_the_end_are_not_taken(scratch, sound):
    recorder = record(scratch, sound)
    note = recorder.finish()
    recorder.write(sound)
    assert recover_notes(scratch)[0].seconds == note.seconds


def test_note_without_sound_has_no_flac(scratch):
    note = NoteRecorder(scratch, "n1", None, None, STARTED).finish()
    assert (note.flac, note.seconds) == (None, 0.0)


def test_dropouts_of_the_microphone_during_the_note_are_counted(scratch, sound):
    lost = [4]
    recorder = NoteRecorder(scratch, "n1", None, None, STARTED, dropouts=lambda: lost[0])
    recorder.write(sound)
    lost[0] += 3
    assert recorder.finish().dropouts == 3


def test_dropouts_are_known_after_a_cut(scratch, sound):
    lost = [0]
    recorder = NoteRecorder(scratch, "n1", None, None, STARTED, dropouts=lambda: lost[0])
    recorder.write(sound)
    lost[0] += 2
    while b'"dropouts":2' not in (scratch / "n1.json").read_bytes():
        time.sleep(0.05)
    assert recover_notes(scratch)[0].dropouts == 2
    recorder.finish()


def test_wav_opens_in_other_programs_while_recording(scratch, sound):
    recorder = record(scratch, sound)
    while not len(read := soundfile.read(scratch / "n1.wav", dtype="int16")[0]):
        time.sleep(0.05)
    assert np.array_equal(read, sound[: len(read)])
    recorder.finish()


def test_same_note_cannot_be_recorded_over(scratch, sound):
    record(scratch, sound).finish()
    with pytest.raises(RecordError, match="already there"):
        NoteRecorder(scratch, "n1", None, None, STARTED)


@pytest.mark.parametrize("name", ["", "../n1", "a/b", "a.b", "é", "x" * 65])
def test_name_that_could_leave_the_folder_is_a_mistake(scratch, name):
    with pytest.raises(ValueError):
        NoteRecorder(scratch, name, None, None, STARTED)


def test_folder_that_cannot_be_written_is_one_sentence(tmp_path):
    (tmp_path / "scratch").write_text("a file where the folder should be")
    with pytest.raises(RecordError, match="could not be used") as caught:
        NoteRecorder(tmp_path / "scratch", "n1", None, None, STARTED)
    assert "\n" not in caught.value.sentence()


HOUR = """
import resource, sys
from pathlib import Path
import numpy as np
from evidence_app.voice.note.recorder import NoteRecorder
recorder = NoteRecorder(Path(sys.argv[1]), "hour", None, None, {})
minute = np.random.default_rng(1).integers(-900, 900, 60 * 16000).astype(np.int16)
peak = []
for number in range(60):
    recorder.write(minute)
    if number in (5, 59):
        peak.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
note = recorder.finish()
peak.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
print(note.seconds, peak[1] - peak[0], peak[2] - peak[0])
"""


def test_an_hour_needs_no_more_memory_than_minutes(tmp_path):
    answer = subprocess.run(
        [sys.executable, "-c", HOUR, tmp_path], capture_output=True, text=True, check=True
    )
    seconds, recording_kib, finishing_kib = map(float, answer.stdout.split())
    assert seconds == 3600
    assert recording_kib < 8_000  # the hour itself is 112,500 KiB
    assert finishing_kib < 30_000  # the encoder's library is loaded at the end
