"""The viewfinder offers what can be set on the camera, and says where nothing can."""

from __future__ import annotations

import cv2
import numpy as np

from evidence_app.practice.camera import photograph


def _at_camera(tablet, **given):
    driver = tablet(size=(1024, 600), **given)
    driver.at_first_step()
    driver.root.go("camera", wanted="front-as-received")
    driver.until(lambda: "shutter" in driver.actions(), "the picture")
    driver.settle()
    return driver


def _light(data: bytes) -> float:
    return float(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE).mean())


def test_darker_is_seen_before_and_on_the_photo_and_nothing_of_it_is_recorded(tablet):
    driver = _at_camera(tablet)
    camera = driver.place.sensing.camera
    before, entries = float(camera.latest().mean()), driver.job.state.sequence
    driver.touch("set exposure")
    assert "Exposure\ndarker" in driver.texts()
    driver.until(
        lambda: camera.latest() is not None and camera.latest().mean() < 0.9 * before, "less light"
    )
    assert driver.job.state.sequence == entries
    driver.until(lambda: "shutter" in driver.actions(), "the picture")
    usual = photograph(camera._scene, "2026-03-02T08:00:00.000+01:00").data
    assert _light(camera.take().data) < 0.9 * _light(usual)
    for _ in range(2):
        driver.touch("set exposure")
    assert "Exposure\nautomatic" in driver.texts()


def test_a_camera_without_controls_says_so(tablet, tmp_path):
    (tmp_path / "photo.jpg").write_bytes(photograph("front?seed=1", "2026-03-02T08:00:00.000+01:00").data)
    driver = _at_camera(tablet, camera=f"file:{tmp_path / 'photo.jpg'}")
    assert "This camera offers neither focus nor exposure to be set." in driver.texts()
    assert not any(action.startswith("set ") for action in driver.actions())
