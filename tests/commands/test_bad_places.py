"""Names, files and devices that lead astray: said at once, and nothing goes elsewhere."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.commands.bench import good_photo, step_list

# Not to be written to, whoever runs the tests: the kernel's own folder.
KERNEL = Path("/sys/kernel")


@pytest.fixture
def at_photo(opened, tmp_path):
    (tmp_path / "good.jpg").write_bytes(good_photo())
    return opened


def test_a_claim_number_with_slashes_keeps_its_job_in_the_jobs_folder(terminal, tmp_path):
    (tmp_path / "list.toml").write_text(step_list(), "utf-8")
    terminal.does("job open list.toml --serial H7/1 --claim ../../K-1 --technician Lind")
    (folder,) = (tmp_path / "home" / "jobs").iterdir()
    assert "claim ../../K-1" in terminal.does(f"job show {folder.name}")


def test_no_jobs_are_said_to_be_none(terminal):
    assert "no jobs" in terminal.does("job list")


@pytest.mark.parametrize("path", ["pipe.jpg", "/dev/zero"])
def test_a_photo_that_is_no_ordinary_file_is_not_read(at_photo, tmp_path, path):
    os.mkfifo(tmp_path / "pipe.jpg")
    assert "not an ordinary file" in at_photo.refuses(f"job photo job slot file:{path}")


def test_an_unwanted_photo_is_refused_before_a_camera_is_waited_for(opened):
    assert "nothing-here" in opened.refuses("job photo job nothing-here folder:nowhere")


def test_a_photo_is_shown_with_the_digits_that_keep_it(at_photo):
    at_photo.does("job photo job slot file:good.jpg")
    shown = at_photo.does("job show job")
    assert [line.split()[2:] for line in shown.splitlines() if line.startswith("photo ")] == [
        ["slot,", "step", "look,", "passes"]
    ]


def test_a_microphone_that_is_not_there_is_said_to_be_missing(opened):
    said = opened.refuses("job note job --microphone file:nothing.wav")
    assert "nothing.wav" in said and "stopped" not in said


@pytest.mark.parametrize("seconds", ["-1", "0", "nan", "inf"])
@pytest.mark.parametrize(
    "command", ["job note job --microphone file:note.wav", "devices microphone file:note.wav"]
)
def test_a_note_is_not_begun_for_no_length_of_time(opened, tmp_path, seconds, command):
    opened.refuses(f"{command} --seconds {seconds}")
    assert "0 notes" in opened.does("job show job")


def test_a_note_with_a_control_character_is_refused(opened):
    assert "control character" in opened.refuses("job note job --text 'red \x1b[31m'")


def test_a_wrong_desk_key_is_told_before_anything_is_sealed(terminal):
    assert "age1" in terminal.refuses("seal nowhere --to-desk age1nothing")


def test_a_pin_that_nobody_can_type_is_asked_for_in_one_sentence(terminal, tmp_path):
    terminal.does("keys make key.pem")
    (tmp_path / "job").mkdir()
    environment = {k: v for k, v in os.environ.items() if k != "EVIDENCE_APP_PIN"}
    child = subprocess.run(
        [sys.executable, "-m", "evidence_app.cli", "seal", "job", "--key", "key.pem"],
        cwd=tmp_path,
        env=environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
    )
    assert child.returncode == 2
    assert child.stderr.count("\n") == 1 and "EVIDENCE_APP_PIN" in child.stderr


@pytest.mark.parametrize("command", ["keys make {}/new/key.pem", "demo {}/new"])
def test_a_folder_that_cannot_be_made_is_named(terminal, command):
    assert str(KERNEL) in terminal.refuses(command.format(KERNEL))


def test_a_camera_that_is_not_there_is_said_while_it_is_waited_for(opened):
    said = opened.refuses("job photo job - camera:97 --wait 3").splitlines()
    assert said[1].startswith("not there yet: camera 97: there is no such camera. Connect it")
    assert said[2].startswith("evidence-app: camera 97: no picture came within 3 s")
