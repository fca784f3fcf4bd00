"""The voice command, from outside."""

from __future__ import annotations

import importlib.util
import shutil
import subprocess

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result

from evidence_app.cli import main
from evidence_app.devices.played import FileMicrophone
from evidence_app.voice.understanding.words import ENGLISH


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["voice", *map(str, arguments)])


@pytest.fixture(scope="module")
def spoken(tmp_path_factory):
    for package in ("onnxruntime", "moonshine_voice"):
        if importlib.util.find_spec(package) is None:
            pytest.skip(f"{package} is not installed")
    if not shutil.which("espeak-ng"):
        pytest.skip("espeak-ng is not installed")
    folder = tmp_path_factory.mktemp("spoken")

    def speak(text: str):
        path = folder / "said.wav"
        subprocess.run(["espeak-ng", "-v", "en-us", "-w", path, text], check=True)
        return path

    return speak


def test_every_phrase_is_listed():
    listed = run("phrases").stdout
    assert all(phrase in listed for said in ENGLISH.phrases.values() for phrase in said)


def test_a_spoken_command_in_a_file_is_shown(spoken):
    done = run("try", f"file:{spoken('next step')}")
    assert done.exit_code == 0
    assert done.stdout.split()[:2] == ["do", "next"]


def test_a_spoken_value_is_shown_as_a_question(spoken):
    done = run("try", f"file:{spoken('twelve millimeters')}", "--unit", "mm")
    assert done.stdout.split()[:3] == ["ask", "reading", "12"]


def test_a_transcript_says_that_a_machine_made_it(spoken, tmp_path):
    sound = np.concatenate(list(FileMicrophone(spoken("the window lies flat")).blocks()))
    soundfile.write(tmp_path / "note.flac", sound, 16_000)
    done = run("transcript", tmp_path / "note.flac")
    assert "window" in done.stdout
    assert "made by a machine" in done.stdout


@pytest.mark.parametrize(
    "make",
    [lambda path: None, lambda path: path.write_bytes(b""), lambda path: path.write_text("no sound")],
    ids=["missing", "empty", "text"],
)
@pytest.mark.parametrize("command", ["try", "transcript"])
def test_a_file_that_is_no_sound_is_one_sentence(tmp_path, spoken, make, command):
    path = tmp_path / "note.wav"
    make(path)
    done = run(command, f"file:{path}" if command == "try" else path)
    assert done.exit_code == 2
    assert done.stderr.startswith("evidence-app: ") and done.stderr.count("\n") == 1
