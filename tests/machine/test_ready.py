"""What is found out of a machine, against parts that are really there or really missing."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import soundfile

from evidence_app.machine import senses, surroundings
from evidence_app.package.keys.keylist import DeviceKey, signature_path, write_key_list
from evidence_app.package.keys.signing_key import create_key, key_sha256, public_pem, read_public_key
from tests.kill.worker import base_photo

NOW = datetime.now(UTC).replace(microsecond=0)


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("EVIDENCE_APP_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def test_a_camera_that_gives_a_picture_works(tmp_path):
    (tmp_path / "a.jpg").write_bytes(base_photo())
    found = senses.camera(f"file:{tmp_path}/a.jpg")
    assert found.state == "works"
    assert "2000 by 1500" in found.words()


@pytest.mark.parametrize("spec", ["file:/no/such/photo.jpg", "camera:97", "nonsense:1"])
def test_a_camera_that_is_not_there_says_so_with_a_remedy(spec):
    found = senses.camera(spec)
    assert found.state == "fails"
    assert found.words().count(".") >= 2


def test_a_microphone_that_hears_speech_works(tmp_path):
    noise = np.random.default_rng(3).normal(0, 300, 16000 * 3).astype(np.int16)
    soundfile.write(tmp_path / "a.wav", noise, 16000)
    assert senses.microphone(f"file:{tmp_path}/a.wav").state == "works"


def test_a_microphone_that_hears_nothing_is_told(tmp_path):
    soundfile.write(tmp_path / "a.wav", np.zeros(16000 * 3, np.int16), 16000)
    found = senses.microphone(f"file:{tmp_path}/a.wav")
    assert found.state == "limited"
    assert "hears nothing" in found.words()


def test_the_speech_model_is_compared_and_loaded():
    assert senses.speech_model().state == "works"


def test_reading_aloud_needs_a_voice_of_the_language():
    assert senses.reading_aloud("de").state == "works"
    assert senses.reading_aloud("xx-none").state == "limited"


def test_reading_aloud_without_the_program_is_no_failure(monkeypatch):
    monkeypatch.setenv("PATH", "/nonexistent")
    found = senses.reading_aloud("en")
    assert found.state == "limited"
    assert "espeak-ng" in found.words()


def test_what_is_missing_to_hear_a_stop_while_it_speaks_is_told(monkeypatch):
    monkeypatch.setattr(senses, "library", lambda: None)
    found = senses.reading_aloud("en")
    assert found.state == "limited"
    assert "libspeexdsp1" in found.words()


def test_no_screen_is_said(monkeypatch):
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    assert surroundings.screen().state == "fails"
    monkeypatch.setenv("DISPLAY", ":7")
    assert surroundings.screen().state == "works"


def test_printers_are_those_of_the_print_service(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    assert surroundings.printer().state == "limited"
    (tmp_path / "lpstat").write_text("#!/bin/sh\necho Depot_office\n")
    (tmp_path / "lpstat").chmod(0o755)
    assert surroundings.printer().words() == "Depot_office."


@pytest.mark.parametrize(("answer", "state"), [("yes", "works"), ("no", "limited")])
def test_a_clock_is_right_when_a_time_server_keeps_it(tmp_path, monkeypatch, answer, state):
    (tmp_path / "timedatectl").write_text(f"#!/bin/sh\necho {answer}\n")
    (tmp_path / "timedatectl").chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert surroundings.clock().state == state


def test_a_disk_is_tried_and_nothing_is_left_on_it(home):
    assert surroundings.disk().state in ("works", "limited")
    assert list(home.iterdir()) == []


def test_a_folder_that_cannot_be_made_is_said(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("EVIDENCE_APP_HOME", str(tmp_path / "file" / "home"))
    found = surroundings.disk()
    assert found.state == "fails"
    assert "file" in found.words()


class TestKeys:
    @pytest.fixture
    def key(self, tmp_path):
        made = create_key(tmp_path / "device-key.pem", "604192")
        path = tmp_path / "device-key.pem"
        path.with_suffix(".public.pem").write_bytes(public_pem(made.public))
        return path

    @pytest.fixture
    def depot(self, tmp_path):
        return create_key(tmp_path / "depot.pem", None, unencrypted=True)

    def a_list(self, folder, depot, *device_keys):
        path = folder / "key-list.toml"
        write_key_list(path, "Northquay Instrument Depot", NOW, device_keys, depot)
        return path

    def test_no_key_yet(self, tmp_path):
        found = surroundings.keys(tmp_path / "none.pem", None)
        assert "not made yet" in found.words()

    def test_no_list(self, key):
        assert "No key list" in surroundings.keys(key, None).words()

    def test_a_key_that_the_list_holds(self, key, depot, tmp_path):
        public = read_public_key(key.with_suffix(".public.pem").read_bytes(), "key")
        until = NOW + timedelta(days=1)
        entry = DeviceKey(key_sha256(public), "Northquay", "tablet 1", NOW, until)
        assert surroundings.keys(key, self.a_list(tmp_path, depot, entry)).state == "works"

    def test_a_key_that_the_list_does_not_hold(self, key, depot, tmp_path):
        found = surroundings.keys(key, self.a_list(tmp_path, depot))
        assert found.state == "limited"
        assert "Northquay Instrument Depot" in found.words()

    def test_a_list_whose_signature_is_missing(self, key, depot, tmp_path):
        path = self.a_list(tmp_path, depot)
        signature_path(path).unlink()
        assert surroundings.keys(key, path).state == "limited"


WITHOUT_THE_TABLET_S = """
import sys
for name in ("kivy", "sounddevice", "soxr", "zxingcpp", "onnxruntime"):
    sys.modules[name] = None
from evidence_app.cli import main
main()
"""


def test_a_clerk_s_computer_gets_the_whole_table(home):
    """It has none of the tablet's libraries."""
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_THE_TABLET_S, "ready", "--camera", "file:/no/such/photo.jpg"],
        capture_output=True,
        text=True,
        timeout=120,
        env={"EVIDENCE_APP_HOME": str(home), "PATH": "/usr/bin:/bin", "COLUMNS": "200"},
    )
    assert done.returncode == 1, done.stderr
    for part in ("Screen", "Camera", "Microphone", "Speech model", "Loudspeaker", "Clock", "Disk", "Keys"):
        assert part in done.stdout
    assert 'pip install "evidence-app[all]"' in done.stdout
