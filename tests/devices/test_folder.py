"""A watched folder, with real files that are written slowly, moved, replaced and taken away."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
import uuid
from pathlib import Path

import cv2
import numpy as np
import pytest

from evidence_app.devices.folder import FolderCamera
from evidence_app.devices.watch import DeviceLost, DeviceReturned
from evidence_app.errors import DeviceError
from tests.devices.conftest import until

LOOK_S = 0.01
SETTLED_S = LOOK_S * 12  # several times what a finished file needs to be taken


def photo(number: int) -> bytes:
    pixels = np.random.default_rng(number).integers(0, 256, (60, 80, 3), np.uint8)
    return cv2.imencode(".jpg", pixels)[1].tobytes()


@pytest.fixture(params=["disk", "memory"])
def either_disk(request, tmp_path):
    """A folder on the disk, and one on a file system in memory where there is one."""
    if request.param == "disk":
        yield tmp_path
        return
    if not Path("/dev/shm").is_dir():
        pytest.skip("no file system in memory here")
    folder = Path("/dev/shm") / f"watched-{uuid.uuid4().hex}"
    folder.mkdir()
    yield folder
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "Aufnahmen ü"
    folder.mkdir()
    return folder


@pytest.fixture
def watch():
    """Starts a FolderCamera and waits until it has seen its folder. ``before_look`` is called
    before each look with the camera, where a test must write faster than it looks."""
    cameras = []

    def start(path, present=True, before_look=None, **settings):
        camera = FolderCamera(path, look_every_s=LOOK_S, **settings)
        if before_look:
            look = camera._look
            camera._look = lambda: (before_look(camera), look())[1]
        camera.news = []
        camera.listen(camera.news.append)
        cameras.append(camera)
        camera.start()
        if present:
            until(lambda: camera.status().present)
            time.sleep(SETTLED_S)
        return camera

    yield start
    for camera in cameras:
        camera.stop()


def nothing_comes(camera) -> bool:
    time.sleep(SETTLED_S)
    return camera.waiting == 0


def test_new_photo_is_taken_byte_for_byte_and_left_there(folder, watch):
    camera = watch(folder)
    (folder / "Foto é 1.JPG").write_bytes(photo(1))
    shot = camera.take()
    assert shot.data == photo(1)
    assert (shot.source["kind"], shot.source["name"], shot.source["file"]) == (
        "folder",
        "Aufnahmen ü",
        "Foto é 1.JPG",
    )
    assert (folder / "Foto é 1.JPG").read_bytes() == photo(1)


def test_preview_is_the_newest_photo(folder, watch):
    camera = watch(folder)
    assert camera.latest() is None
    (folder / "a.jpg").write_bytes(photo(1))
    camera.take()
    assert camera.latest().shape == (15, 20, 3)


def test_photos_from_before_are_not_taken(folder, watch):
    (folder / "old.jpg").write_bytes(photo(1))
    assert nothing_comes(watch(folder))


def test_photos_from_before_are_taken_when_asked_for(folder, watch):
    (folder / "old.jpg").write_bytes(photo(1))
    assert watch(folder, existing=True).take().data == photo(1)


def test_half_written_photo_is_waited_for(folder, watch):
    camera = watch(folder)
    with (folder / "a.jpg").open("wb", buffering=0) as file:
        file.write(photo(1)[:2000])
        assert nothing_comes(camera)
        file.write(photo(1)[2000:])
    assert camera.take().data == photo(1)


def test_photo_that_stays_half_written_is_said(folder, watch):
    camera = watch(folder)
    (folder / "a.jpg").write_bytes(photo(1)[:2000])
    until(lambda: camera.not_taken)
    assert list(map(str, camera.not_taken)) == ["a.jpg is not complete yet; it is waited for"]


def test_photo_that_grows_steadily_is_taken_once_and_whole(folder, watch):
    camera = watch(folder)
    with (folder / "a.jpg").open("wb", buffering=0) as file:
        for start in range(0, len(photo(1)), 600):
            file.write(photo(1)[start : start + 600])
            time.sleep(3 * LOOK_S)
    assert camera.take().data == photo(1)
    assert nothing_comes(camera)


def test_whole_photo_that_is_still_growing_is_waited_for(folder, watch):
    waited = []
    with (folder / "a.jpg").open("wb", buffering=0) as file:

        def grow(camera) -> None:
            if len(waited) < 5:  # looks, while three are enough for a finished one
                file.write(b"further data of the camera" if waited else photo(1))
                waited.append(camera.waiting)

        camera = watch(folder, before_look=grow, existing=True)
        until(lambda: len(waited) == 5)
    assert waited == [0] * 5
    assert camera.take().data == (folder / "a.jpg").read_bytes()


def test_photo_filled_into_room_set_aside_is_waited_for(folder, watch):
    camera = watch(folder)
    with (folder / "a.jpg").open("wb", buffering=0) as file:
        file.truncate(len(photo(1)))
        file.write(photo(1)[:2000])
        assert nothing_comes(camera)
        file.write(photo(1)[2000:])
    assert camera.take().data == photo(1)


def test_photo_already_being_written_at_the_start_is_not_taken(folder, watch):
    with (folder / "a.jpg").open("wb", buffering=0) as file:
        file.write(photo(1)[:500])
        rest = [photo(1)[start : start + 900] for start in range(500, len(photo(1)), 900)]

        def grow(camera) -> None:
            if rest and camera.status().present:
                file.write(rest.pop(0))

        camera = watch(folder, before_look=grow)
        until(lambda: not rest)
    until(lambda: camera.not_taken)
    assert "already being written" in str(camera.not_taken[0])
    assert nothing_comes(camera)


def test_photo_is_taken_once_even_when_touched_or_copied(folder, watch):
    camera = watch(folder)
    (folder / "a.jpg").write_bytes(photo(1))
    camera.take()
    os.utime(folder / "a.jpg", (1, 1))
    shutil.copy(folder / "a.jpg", folder / "b.jpg")
    assert nothing_comes(camera)


def test_new_photo_under_a_used_name_is_taken(folder, watch):
    camera = watch(folder)
    (folder / "live.jpg").write_bytes(photo(1))
    camera.take()
    (folder / "live.jpg").write_bytes(photo(2))
    assert camera.take().data == photo(2)


def test_photo_moved_into_the_folder_is_taken(folder, tmp_path, watch):
    camera = watch(folder)
    (tmp_path / "a.jpg.part").write_bytes(photo(1))
    os.rename(tmp_path / "a.jpg.part", folder / "a.jpg")
    assert camera.take().data == photo(1)


def test_many_photos_come_all_and_oldest_first(folder, watch):
    camera = watch(folder)
    for number in range(12):
        (folder / f"{99 - number}.jpg").write_bytes(photo(number))
        os.utime(folder / f"{99 - number}.jpg", (1000 + number, 1000 + number))
    assert [camera.take().data for _ in range(12)] == [photo(number) for number in range(12)]


def test_what_is_not_a_photo_is_said_and_left(folder, watch):
    camera = watch(folder)
    (folder / "raw.dng").write_bytes(b"x")
    (folder / "sub.jpg").mkdir()
    (folder / "link.jpg").symlink_to(folder / "raw.dng")
    os.mkfifo(folder / "pipe.jpg")
    (folder / "png.jpg").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(100))
    until(lambda: len(camera.not_taken) == 5)
    assert {notice.split()[0] for notice in map(str, camera.not_taken)} == {
        "raw.dng",
        "sub.jpg",
        "link.jpg",
        "pipe.jpg",
        "png.jpg",
    }
    assert camera.waiting == 0


@pytest.mark.skipif(sys.platform != "linux", reason="names there are always text")
def test_name_that_is_no_text_is_made_readable(folder, watch):
    camera = watch(folder)
    with open(os.fsencode(folder) + b"/\xff1.jpg", "wb") as file:
        file.write(photo(1))
    assert camera.take().source["file"] == "\\xff1.jpg"


def test_nothing_new_is_one_sentence(folder, watch):
    with pytest.raises(DeviceError, match="no new photo came") as caught:
        watch(folder).take(timeout_s=0.05)
    assert "\n" not in caught.value.sentence()


def test_folder_taken_away_is_lost_and_goes_on_when_it_returns(either_disk, watch):
    folder = either_disk / "in"
    folder.mkdir()
    (folder / "old.jpg").write_bytes(photo(0))
    old = os.stat(folder / "old.jpg").st_mtime_ns
    camera = watch(folder)
    shutil.rmtree(folder)
    until(lambda: camera.news)
    assert isinstance(camera.news[0], DeviceLost)
    assert "cannot be read" in str(camera.status().message)
    folder.mkdir()
    (folder / "old.jpg").write_bytes(photo(0))
    os.utime(folder / "old.jpg", ns=(old, old))
    (folder / "meanwhile.jpg").write_bytes(photo(1))
    assert camera.take().data == photo(1)
    assert isinstance(camera.news[1], DeviceReturned)
    assert nothing_comes(camera)


def test_folder_that_appears_later_is_watched_from_then(folder, watch):
    folder.rmdir()
    camera = watch(folder, present=False)
    until(lambda: "cannot be read" in str(camera.status().message))
    folder.mkdir()
    until(lambda: camera.status().present)
    assert camera.news == []  # what was never there was not lost
    (folder / "a.jpg").write_bytes(photo(1))
    assert camera.take().data == photo(1)


UNMOUNTED = """
import json, subprocess, sys, time
from pathlib import Path
from evidence_app.devices.folder import FolderCamera
from tests.devices.test_folder import photo, until
card = Path(sys.argv[1])
def mount():
    subprocess.run(["mount", "-t", "tmpfs", "tmpfs", card], check=True)
mount()
camera = FolderCamera(card, look_every_s=0.02)
news = []
camera.listen(lambda item: news.append(type(item).__name__))
camera.start()
until(lambda: camera.status().present)
subprocess.run(["umount", card], check=True)
until(lambda: news)
message = str(camera.status().message)
mount()
(card / "a.jpg").write_bytes(photo(1))
whole = camera.take(600).data == photo(1)
camera.stop()
print(json.dumps([message, news, whole]))
"""


def test_unmounted_disk_is_lost_though_its_mount_point_stays(tmp_path):
    unshare = ["unshare", "--mount"] if os.getuid() == 0 else ["unshare", "-rm"]
    trial = [*unshare, "mount", "-t", "tmpfs", "tmpfs", tmp_path]
    if not shutil.which("unshare") or subprocess.run(trial, capture_output=True).returncode:
        pytest.skip("mounting a disk is not allowed here")
    answer = subprocess.run(
        [*unshare, sys.executable, "-c", UNMOUNTED, tmp_path], capture_output=True, text=True, check=True
    )
    message, news, whole = json.loads(answer.stdout)
    assert "not mounted" in message
    assert (news, whole) == (["DeviceLost", "DeviceReturned"], True)
