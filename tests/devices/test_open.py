"""Cameras and microphones by their written names."""

from __future__ import annotations

import pytest

from evidence_app.devices.file import FileCamera
from evidence_app.devices.named import open_camera, open_microphone, register_camera
from evidence_app.errors import DeviceError
from tests.devices.conftest import until


@pytest.mark.parametrize(
    "spec",
    [
        "",
        "camera",
        "camera:",
        "camera:x",
        "camera:-1",
        "camera:0@big",
        "camera:0@1x",
        "http:",
        "http://",
        "http://[",
        "folder:",
        "file:",
        "tape:3",
        "/dev/video0",
    ],
)
def test_name_of_no_camera_is_refused_in_one_sentence(spec):
    with pytest.raises(DeviceError) as caught:
        open_camera(spec)
    assert "\n" not in caught.value.sentence()


@pytest.mark.parametrize("spec", ["", "file:", "tape:3"])
def test_name_of_no_microphone_is_refused_in_one_sentence(spec):
    with pytest.raises(DeviceError) as caught:
        open_microphone(spec)
    assert "\n" not in caught.value.sentence()


@pytest.mark.parametrize(
    ("spec", "name"),
    [
        ("camera:0", "camera 0"),
        ("camera:2@3840x2160", "camera 2"),
        ("rtsp://cam/1", "rtsp://cam/1"),
        ("HTTP://cam/1", "http://cam/1"),
        ("folder:/photos/in", "in"),
        ("file:/photos/Scheibe ü.jpg", "Scheibe ü.jpg"),
    ],
)
def test_camera_has_a_readable_name(spec, name):
    assert open_camera(spec).name == name


def test_camera_that_is_not_there_is_said():
    camera = open_camera("camera:63")
    camera.start()
    until(lambda: "no such camera" in str(camera.status().message))
    with pytest.raises(DeviceError, match="no such camera"):
        camera.take(timeout_s=0.1)
    camera.stop()


def test_another_room_can_bring_its_own_camera(tmp_path):
    register_camera("drawer", lambda rest: FileCamera(tmp_path / rest))
    assert open_camera("drawer:a.jpg").name == "a.jpg"


def test_file_camera_gives_the_file_byte_for_byte(tmp_path):
    (tmp_path / "a.jpg").write_bytes(b"whatever is in it")
    camera = open_camera(f"file:{tmp_path}/a.jpg")
    camera.start()
    shot = camera.take()
    assert shot.data == b"whatever is in it"
    assert (shot.source["kind"], shot.source["name"]) == ("file", "a.jpg")


@pytest.mark.parametrize("name", ["missing.jpg", "."])
def test_file_camera_without_a_file_is_one_sentence(tmp_path, name):
    camera = open_camera(f"file:{tmp_path}/{name}")
    assert not camera.status().present
    with pytest.raises(DeviceError, match="cannot be read"):
        camera.take()
