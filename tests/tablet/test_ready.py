"""The page that tries every part of the tablet says the same as the command."""

from __future__ import annotations


def test_each_part_is_tried_and_said_with_its_remedy(tablet, tmp_path):
    driver = tablet()
    driver.place.change_settings(camera=f"file:{tmp_path}/no-such.jpg")
    driver.touch("settings")
    driver.touch("ready")
    driver.until(lambda: "Keys: " in driver.texts(), "the last part")
    texts = driver.texts()
    for part in ("Screen: ", "Camera: does not work", "Microphone: ", "Speech model: ", "Loudspeaker: ",
                 "Reading aloud: ", "Printer: ", "Clock: ", "Disk: works"):  # fmt: skip
        assert part in texts
    assert "no-such.jpg" in texts
    driver.look("ready")


def test_it_can_be_left_while_it_tries(tablet):
    driver = tablet()
    driver.touch("settings")
    driver.touch("ready")
    driver.touch("back")
    driver.settle()
    assert driver.screen == "settings"
