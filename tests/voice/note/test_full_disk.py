"""A disk that fills up in the middle of a note: what was said so far is kept and finished.

On a real small disk, a tmpfs in a private mount namespace; skipped where that is not
allowed. The limit on file sizes, which needs no rights, makes writes fail everywhere.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from functools import cache

import pytest

START = """
import json, os, resource, signal, sys, time
from pathlib import Path
import numpy as np, soundfile
from evidence_app.errors import RecordError, StorageFull
from evidence_app.voice.note.recorder import NoteRecorder, clear, recover_notes

disk = Path(sys.argv[1])
second = np.random.default_rng(1).integers(-32768, 32768, 16000).astype(np.int16)
problems = []

def start(note):
    return NoteRecorder(disk / "scratch", note, "press-mesh", None, {}, on_problem=problems.append)

def say(recorder, seconds):
    for number in range(seconds):
        recorder.write(np.roll(second, number))
        while recorder.seconds < number + 1 and recorder.problem is None:
            time.sleep(0.002)

def kept(note):
    sound, _ = soundfile.read(note.flac, dtype="int16")
    said = np.concatenate([np.roll(second, number) for number in range(len(sound) // 16000 + 1)])
    return bool(np.array_equal(sound, said[:len(sound)]))
"""
MOUNTS = (["unshare", "--mount"], ["unshare", "--user", "--map-root-user", "--mount"])


@cache
def mount_command() -> list[str] | None:
    for command in MOUNTS if shutil.which("unshare") else ():
        trial = [*command, "mount", "-t", "tmpfs", "tmpfs", "/mnt"]
        if subprocess.run(trial, capture_output=True).returncode == 0:
            return command
    return None


def run(command: list) -> dict:
    answer = subprocess.run(command, capture_output=True, text=True)
    assert answer.stderr == ""
    return json.loads(answer.stdout)


@pytest.fixture
def on_small_disk(tmp_path):
    command = mount_command()
    if command is None:
        pytest.skip("mounting a small tmpfs is not allowed here")

    def on_disk(scenario: str) -> dict:
        mounted = 'mount -t tmpfs -o size=4m tmpfs "$1" && exec "$2" -c "$3" "$1"'
        shell = ["sh", "-c", mounted, "sh", tmp_path, sys.executable, START + scenario]
        return run([*command, *shell])

    return on_disk


def test_note_on_a_full_disk_is_finished_as_far_as_it_went(on_small_disk):
    # White noise at full scale, which FLAC cannot shorten at all.
    seen = on_small_disk("""
recorder = start("n1")
say(recorder, 200)
note = recorder.finish()
print(json.dumps({"seconds": note.seconds, "kept": kept(note), "cut_short": note.cut_short,
    "problem": note.problem, "told": [type(p).__name__ for p in problems]}))
""")
    assert 30 < seen["seconds"] < 65  # 4 MiB hold 65 s once as FLAC and once as WAV
    assert seen["kept"]
    assert seen["cut_short"]
    assert "disk is full" in seen["problem"]
    assert seen["told"] == ["StorageFull"]


def test_recovering_on_a_full_disk_finishes_in_the_room_set_aside(on_small_disk):
    seen = on_small_disk("""
child = os.fork()
if child == 0:
    say(start("n1"), 20)
    os.kill(os.getpid(), signal.SIGKILL)
os.waitpid(child, 0)
with (disk / "ballast").open("wb", buffering=0) as ballast:
    try:
        while True:
            ballast.write(bytes(4096))
    except OSError:
        pass
note, = recover_notes(disk / "scratch")
print(json.dumps({"seconds": note.seconds, "kept": kept(note)}))
""")
    assert seen == {"seconds": 20.0, "kept": True}


def test_note_is_not_begun_on_a_full_disk(on_small_disk):
    seen = on_small_disk("""
with (disk / "ballast").open("wb", buffering=0) as ballast:
    try:
        while True:
            ballast.write(bytes(4096))
    except OSError:
        pass
try:
    start("n1")
except StorageFull as error:
    print(json.dumps(error.sentence()))
""")
    assert "disk is full" in seen


def test_note_goes_on_to_its_end_when_a_write_is_refused(tmp_path):
    seen = run(
        [
            sys.executable,
            "-c",
            START
            + """
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (3 << 19, resource.RLIM_INFINITY))
recorder = start("n1")
say(recorder, 60)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
note = recorder.finish()
print(json.dumps({"seconds": note.seconds, "kept": kept(note), "problem": note.problem}))
""",
            tmp_path,
        ]
    )
    assert 30 < seen["seconds"] < 48
    assert seen["kept"]
    assert "this was not recorded" in seen["problem"]
