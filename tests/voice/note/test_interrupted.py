"""Notes that were cut: by a kill, by the loss of power, at every step of their way."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from evidence_app.devices.microphone import RATE
from evidence_app.voice.note.recorder import NoteRecorder, clear, recover_notes
from tests.voice.conftest import STARTED, blocks_of

RECORDING = """
import os, sys, time
from pathlib import Path
from evidence_app.devices.played import FileMicrophone
from evidence_app.voice.note.recorder import NoteRecorder

folder, speech, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
fsync, log = os.fsync, -1
def logged(handle):
    "What a power cut now would leave of the sound file: its length at the last sync."
    size = os.fstat(handle).st_size
    fsync(handle)
    if os.readlink(f"/proc/self/fd/{handle}").endswith(".wav"):
        os.pwrite(log, b"%12d" % size, 0)
os.fsync = logged

def record(scratch):
    global log
    log = os.open(scratch.with_suffix(".log"), os.O_WRONLY | os.O_CREAT, 0o644)
    microphone = FileMicrophone(speech)
    recorder = NoteRecorder(scratch, "n1", "press-mesh", None, {}, dropouts=microphone.dropouts)
    heard = 0
    def on_block(block):
        nonlocal heard
        heard += len(block)
        os.pwrite(log, b"%12d" % heard, 12)
        recorder.write(block)
    microphone.start(on_block)
    while "to its end" not in microphone.status().message.template:
        time.sleep(0.01)

# The libraries are loaded once; each recording is a process of its own.
for number in range(count):
    recording = os.fork()
    if recording == 0:
        record(folder / str(number))
        os._exit(0)
    print(recording, flush=True)
for _ in range(count):
    os.wait()
"""


@pytest.fixture(scope="module")
def cut_recordings(tmp_path_factory, sound):
    """Ten processes that record in real time, killed at random moments of what they hear.

    For each: its scratch folder, samples heard, and the WAV's length at its last sync.
    """
    folder, count = tmp_path_factory.mktemp("cut"), 10
    soundfile.write(folder / "speech.wav", sound, RATE)
    command = [sys.executable, "-c", RECORDING, folder, folder / "speech.wav", str(count)]
    scratches = [folder / str(number) for number in range(count)]

    def log(scratch: Path) -> tuple[int, int]:
        """Samples heard, and bytes synced."""
        path = scratch.with_suffix(".log")
        told = path.read_bytes() if path.exists() else b""
        return int(told[12:24] or 0), int(told[:12].strip(b"\0") or 0)

    chance = random.Random(20260302)
    moments = sorted(chance.uniform(0.1, 2.2) for _ in scratches)
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as all_of_them:
        for scratch, moment in zip(scratches, moments, strict=True):
            recording = int(all_of_them.stdout.readline())
            while log(scratch)[0] < moment * RATE:
                assert all_of_them.poll() is None
                time.sleep(0.002)
            os.kill(recording, signal.SIGKILL)
    return [(scratch, *log(scratch)) for scratch in scratches]


def test_killed_recording_loses_at_most_a_second(cut_recordings, sound):
    for scratch, heard, _ in cut_recordings[::2]:
        (note,) = recover_notes(scratch)
        samples = soundfile.read(note.flac, dtype="int16")[0] if note.flac else sound[:0]
        assert np.array_equal(samples, sound[: len(samples)])
        assert heard - len(samples) <= RATE
        assert (note.step, note.cut_short) == ("press-mesh", True)


def test_power_cut_loses_at_most_a_second(cut_recordings, sound):
    for scratch, heard, synced_bytes in cut_recordings[1::2]:
        os.truncate(scratch / "n1.wav", synced_bytes)
        (note,) = recover_notes(scratch)
        samples = soundfile.read(note.flac, dtype="int16")[0] if note.flac else sound[:0]
        assert np.array_equal(samples, sound[: len(samples)])
        assert heard - len(samples) <= RATE


class Killed:
    """Patches what changes the disk so that this process dies at the n-th such call."""

    def __init__(self, calls: int) -> None:
        self._left = calls

    def install(self) -> None:
        for name in ("fsync", "replace", "unlink", "open", "posix_fallocate"):
            setattr(os, name, self._counting(getattr(os, name)))

    def _counting(self, call):
        def counted(*arguments, **named):
            self._left -= 1
            if self._left < 0:
                os.kill(os.getpid(), signal.SIGKILL)
            return call(*arguments, **named)

        return counted


def dies(action, calls: int) -> bool:
    """Run ``action`` in a child that dies at its n-th change of the disk; whether it did."""
    child = os.fork()
    if child == 0:
        try:
            Killed(calls).install()
            action()
        except BaseException:
            os._exit(9)
        os._exit(0)
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    assert status in (0, -signal.SIGKILL)
    return status != 0


def record_commit_clear(scratch: Path, sound: np.ndarray) -> None:
    recorder = NoteRecorder(scratch, "n1", "press-mesh", None, STARTED)
    for block in blocks_of(sound):
        recorder.write(block)
    recorder.finish()
    (scratch / "finished").touch()
    (scratch / "committed").touch()  # stands for the journal's event
    clear(scratch, "n1")


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # fork beside a finished thread
def test_crash_at_every_step_leaves_a_note_that_recovers(tmp_path, sound):
    second = sound[:RATE]
    for calls in range(200):
        scratch = tmp_path / str(calls)
        if not dies(lambda scratch=scratch: record_commit_clear(scratch, second), calls):
            assert not list(scratch.glob("n1*"))
            assert calls > 10  # the way has at least so many steps
            return
        notes = recover_notes(scratch)
        assert notes == recover_notes(scratch)
        if not (scratch / "committed").exists():
            bound = scratch.exists() and (scratch / "n1.json").exists()
            assert len(notes) == bound
            for note in notes:
                samples = soundfile.read(note.flac, dtype="int16")[0] if note.flac else second[:0]
                assert np.array_equal(samples, second[: len(samples)])
                assert note.cut_short or len(samples) == len(second)
        for note in notes:
            clear(scratch, note.note)
        assert not list(scratch.glob("n1*"))
    raise AssertionError("the recording never came to its end")


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_crash_at_every_step_of_recovering_loses_nothing(tmp_path, sound):
    def leave_cut_note(scratch: Path) -> None:
        recorder = NoteRecorder(scratch, "n1", "press-mesh", None, STARTED)
        recorder.write(sound)
        while recorder.seconds < 5:
            time.sleep(0.002)
        os.kill(os.getpid(), signal.SIGKILL)

    for calls in range(100):
        scratch = tmp_path / str(calls)
        assert dies(lambda scratch=scratch: leave_cut_note(scratch), 1000)
        died = dies(lambda scratch=scratch: recover_notes(scratch), calls)
        (note,) = recover_notes(scratch)
        assert np.array_equal(soundfile.read(note.flac, dtype="int16")[0], sound)
        assert note.cut_short
        if not died:
            assert calls > 3
            return
    raise AssertionError("recovering never came to its end")


def test_half_a_sample_at_the_end_is_left_out(scratch, sound):
    cut = leave_wav(scratch, sound)
    with cut.open("ab") as file:
        file.write(b"\x01")
    (note,) = recover_notes(scratch)
    assert np.array_equal(soundfile.read(note.flac, dtype="int16")[0], sound)


def test_wav_cut_inside_its_header_is_a_note_without_sound(scratch, sound):
    os.truncate(leave_wav(scratch, sound), 20)
    (note,) = recover_notes(scratch)
    assert (note.flac, note.seconds, note.cut_short) == (None, 0.0, True)


def test_damaged_binding_still_gives_the_sound(scratch, sound):
    leave_wav(scratch, sound)
    (scratch / "n1.json").write_bytes(b'{"note":')
    (note,) = recover_notes(scratch)
    assert (note.note, note.step, note.seconds) == ("n1", None, 5.0)


def test_damaged_flac_is_kept_as_it_is(scratch, sound):
    leave_wav(scratch, sound)
    (note,) = recover_notes(scratch)
    note.flac.write_bytes(b"not flac any more")
    (again,) = recover_notes(scratch)
    assert "cannot be read" in again.problem
    assert again.flac.read_bytes() == b"not flac any more"


def test_strange_files_are_left_alone(scratch):
    scratch.mkdir(parents=True)
    (scratch / "letter.txt").write_text("hello")
    (scratch / "é.wav").write_text("hello")
    assert recover_notes(scratch) == []
    assert len(list(scratch.iterdir())) == 2


def test_no_folder_means_no_notes(tmp_path):
    assert recover_notes(tmp_path / "never made") == []


def leave_wav(scratch: Path, sound: np.ndarray) -> Path:
    """The files of a recording that was cut after ``sound``."""
    recorder = NoteRecorder(scratch, "n1", "press-mesh", None, STARTED)
    recorder.write(sound)
    recorder.finish()
    (scratch / "n1.flac").unlink()
    soundfile.write(scratch / "n1.wav", sound, RATE, "PCM_16")
    (scratch / "n1.json").write_bytes(
        (scratch / "n1.json").read_bytes().replace(b'"ended":true', b'"ended":false')
    )
    return scratch / "n1.wav"
