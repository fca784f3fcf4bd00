"""The screen shows what is: of the camera, of the PIN, of a spoken reason."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile

from evidence_app.job.running.guide import Job
from evidence_app.record.clock import SystemClock
from tests.tablet.driver import PIN

F2 = 283


@pytest.fixture
def at_step(tablet):
    driver = tablet(size=(1024, 600))
    driver.at_first_step()
    return driver


def at_camera(driver):
    driver.root.go("camera", wanted="front-as-received")
    driver.until(lambda: "shutter" in driver.actions(), "the picture")
    return driver.place.sensing.camera


def test_there_is_no_shutter_before_the_first_picture(tablet, tmp_path):
    driver = tablet(practice=True, camera=f"file:{tmp_path / 'not-there.jpg'}")
    driver.at_first_step()
    driver.root.go("camera", wanted="front-as-received")
    driver.until(lambda: driver.place.sensing.camera is not None, "the camera")
    driver.settle()
    driver.key(F2)
    driver.settle()
    assert "shutter" not in driver.actions()
    assert "Waiting for the camera" in driver.texts()
    assert not driver.job.state.photos


def test_a_lost_camera_has_no_shutter_and_its_last_picture_is_grey(at_step):
    camera = at_camera(at_step)
    live = at_step.root.screen.live
    assert not live.grey
    camera.unplug()
    at_step.until(lambda: live.grey, "the grey picture")
    assert "shutter" not in at_step.actions()
    assert "last picture" in at_step.texts()
    camera.plug_in()
    at_step.until(lambda: "shutter" in at_step.actions(), "the shutter")
    assert not live.grey


def test_the_picture_stands_still_while_a_photo_is_stored(at_step):
    at_camera(at_step)
    live = at_step.root.screen.live
    before = live.frames
    assert at_step.root.act("shutter")
    at_step.until(lambda: at_step.screen != "camera", "the photo")
    assert live.frames <= before + 1  # the one more is the photo


def test_a_photo_that_is_stored_after_its_screen_was_left_is_offered(at_step):
    at_camera(at_step)
    assert at_step.root.act("shutter")
    assert at_step.root.act("back")
    at_step.until(lambda: "late-photo" in at_step.actions(), "the offer")
    assert at_step.screen == "step"
    assert at_step.job.state.photos
    at_step.touch("late-photo")
    assert at_step.screen == "photo"


def test_a_wrong_pin_stays_in_the_pad_and_says_how_many_and_how_long(tablet):
    from evidence_app.tablet.sealing import open_device_key

    open_device_key(PIN)
    driver = tablet()
    driver.root.go("devicekey")
    driver.until(lambda: "try-pin" in driver.actions(), "the key")
    driver.touch("try-pin")
    for tries, told in (("1 wrong PIN", ""), ("2 wrong PINs", ""), ("3 wrong PINs", "Wait ")):
        driver.type("111111")
        driver.touch("record")
        driver.until(lambda: driver.screen == "entry", "the pad")
        assert tries in driver.texts()
        assert told in driver.texts()


def test_silence_is_no_spoken_reason(tablet, tmp_path):
    sound = tmp_path / "silence.wav"
    soundfile.write(sound, np.zeros(16000 * 20, np.int16), 16000)
    driver = tablet(size=(1024, 600), microphone=f"file:{sound}")
    driver.at_first_step()
    driver.touch("stop")
    driver.touch("stop-repair")
    driver.type("The lamp failed.")
    driver.touch("record")
    driver.touch("note")
    driver.touch("start-note")
    driver.until(lambda: driver.place.sensing.recorder.seconds > 1, "sound")
    driver.touch("end-note")
    assert driver.job.record.events[-1].kind == "note-lost"
    assert "does not count" in driver.texts()
    folder = driver.job.record.folder
    driver.end()
    with Job.resume(folder, SystemClock()) as resumed:
        assert [note.heard for note in resumed.state.notes] == ["lost"]
    assert len(list(folder.rglob("*.flac"))) == 1, "what was recorded is kept"
