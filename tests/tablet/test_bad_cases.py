"""What goes wrong around the work has a calm sentence and a way on."""

from __future__ import annotations

import pytest
import segno
from PIL import Image

from evidence_app.practice.clock import PracticeClock
from evidence_app.tablet import sealing
from evidence_app.tablet.presenting import notices


@pytest.fixture
def at_step(tablet):
    driver = tablet(size=(1024, 600))
    driver.at_first_step()
    return driver


def test_a_camera_that_is_lost_and_returns_is_told_and_recorded(at_step):
    at_step.root.go("camera", wanted="front-as-received")
    at_step.until(lambda: at_step.place.sensing.camera is not None, "the camera")
    camera = at_step.place.sensing.camera
    at_step.until(lambda: camera.status().present, "the picture")
    camera.unplug()
    at_step.until(lambda: "camera" in at_step.place.notices, "the notice")
    at_step.settle()
    assert "camera is not there" in at_step.texts()
    camera.plug_in()
    at_step.until(lambda: "camera" not in at_step.place.notices, "the camera's return")
    at_step.settle()
    kinds = [e.kind for e in at_step.job.record.events]
    assert kinds[-2:] == ["device-lost", "device-returned"]


def test_a_full_disk_refuses_photos_and_says_that_the_rest_is_safe(at_step, monkeypatch):
    monkeypatch.setattr(type(at_step.place), "free_bytes", lambda _: 150_000_000)
    at_step.root.go("camera", wanted="front-as-received")
    at_step.until(lambda: "shutter" in at_step.actions(), "the picture")
    before = at_step.job.state.sequence
    at_step.touch("shutter")
    assert at_step.job.state.sequence == before
    assert "Everything recorded so far is safe" in at_step.texts()


@pytest.mark.parametrize(
    ("free", "told"), [(3_000_000_000, None), (1_900_000_000, "filling up"), (199_000_000, "only 199 MB")]
)
def test_the_disk_is_warned_of_below_two_gigabytes(free, told):
    notice = notices.disk_notice(free)
    assert (notice is None) if told is None else (told in notice.words)


def test_room_for_the_photos_ahead_is_asked_for_too():
    assert notices.disk_notice(3_000_000_000, photos_ahead=500) is not None


@pytest.mark.parametrize(
    ("percent", "plugged", "told"),
    [(10, False, True), (10, True, False), (60, False, False), (None, None, False)],
)
def test_a_low_battery_is_told_while_it_is_not_charging(percent, plugged, told):
    assert (notices.battery_notice(percent, plugged) is not None) is told


def test_a_reading_outside_its_limits_is_asked_about_and_recorded_as_outside(at_step):
    from evidence_app.locations import sample
    from evidence_app.practice.session import load_session

    session = load_session(sample("completed.session.toml"))
    at_step.play(session, lambda d: d.job.state.step == "check-ground" and d.screen == "entry")
    for sign in "90":
        at_step.touch(f"key {sign}")
    at_step.touch("record")
    assert at_step.job.state.readings[-1].reading == "serial-number"
    at_step.touch("outside")
    assert at_step.job.state.readings[-1].within is False


def test_what_was_just_recorded_can_be_taken_back(tablet):
    at_step = tablet(size=(1024, 600), clock=PracticeClock("2026-03-02T08:00:00.000+01:00"))
    at_step.at_first_step()
    at_step.touch("main")
    at_step.type("H7-204-11873")
    at_step.touch("record")
    at_step.touch("take-back")
    assert at_step.job.record.events[-1].kind == "taken-back"
    assert not at_step.job.state.readings


def test_the_offer_to_take_back_moves_nothing_and_covers_nothing(at_step):
    from tests.tablet.layout import faults

    def places():
        at_step.settle()
        return {p.action: (*p.to_window(*p.pos), *p.size) for p in at_step.root.plates()}

    at_step.place.dismiss("take-back")  # of the step that was just begun
    for size, percent in (((1024, 600), 100), ((1280, 800), 150), ((600, 1024), 200)):
        at_step.place.change_settings(text_size=percent)
        at_step.resize(size)
        before = places()
        at_step.place.tell(notices.take_back_notice())
        during = places()
        assert during.pop("take-back"), size
        assert during == before, size
        assert not faults(at_step.root), size
        at_step.place.dismiss("take-back")


def test_a_photo_can_be_added_as_a_note(at_step):
    at_step.touch("note")
    at_step.touch("photo-note")
    at_step._at_camera(None)
    assert at_step.job.state.photos[-1].purpose == "note"


def test_a_clock_that_was_set_is_told_and_recorded(tablet):
    clock = PracticeClock("2026-03-02T08:15:00.000+01:00")
    driver = tablet(size=(1024, 600), clock=clock)
    driver.begin("completed")
    clock.advance(60)
    clock.set_wall("2026-03-02T07:16:00.000+01:00")
    driver.touch("acknowledge")
    assert "The tablet's clock was set" in driver.texts()
    assert "clock-stepped" in [e.kind for e in driver.job.record.events]


def test_a_serial_number_is_read_from_a_code_before_the_camera(tablet, tmp_path):
    code, photo = tmp_path / "code.png", tmp_path / "plate.jpg"
    segno.make("H7-204-11873", error="m").save(code, scale=12, border=8)
    Image.open(code).convert("RGB").save(photo, quality=90)
    driver = tablet(practice=False, camera=f"file:{photo}")
    driver.touch("new")
    driver.touch("enter-serial")
    driver.touch("scan")
    driver.until(lambda: driver.screen != "scan", "the code to be read")
    driver.settle()
    driver.touch("record")
    assert "H7-204-11873" in driver.texts()


def test_a_missing_microphone_in_its_test_offers_no_note_to_write(tablet):
    driver = tablet(practice=False, microphone="microphone:none of this name")
    driver.touch("settings")
    driver.touch("try-microphone")
    driver.until(lambda: "The microphone is not there" in driver.texts(), "the sentence")
    assert driver.actions() == ["back"]


def test_the_address_of_a_camera_is_entered_with_the_keys_on_the_screen(tablet):
    driver = tablet(practice=False)
    driver.touch("settings")
    driver.touch("camera")
    driver.touch("other-device")
    while driver.root.screen._value:
        driver.touch("key Delete")
    for sign in "http":
        driver.touch(f"key {sign}")
    driver.touch("key :?!")
    driver.touch("key :")
    driver.touch("key abc")
    for sign in "//cam":
        driver.touch(f"key {sign}")
    driver.touch("record")
    assert "http://cam" in driver.texts()


@pytest.fixture
def sealed(at_step):
    """The tablet behind a sealed job that was abandoned."""
    at_step.touch("stop")
    at_step.touch("abandon")
    at_step.type("The unit was called back.")
    at_step.touch("record")
    at_step.seal()
    return at_step


def stick(monkeypatch, *disks):
    """These disks are plugged in, as far as the system says."""
    monkeypatch.setattr(sealing, "removable_disks", lambda *_: disks)


def test_a_sealed_package_is_copied_to_a_removable_disk(sealed, monkeypatch, tmp_path):
    stick(monkeypatch, tmp_path)
    sealed.root.go("finish")
    sealed.until(lambda: any(a.startswith("copy") for a in sealed.actions()), "the disk")
    sealed.touch(next(a for a in sealed.actions() if a.startswith("copy")))
    sealed.until(lambda: "It was read back and is complete." in sealed.texts(), "the copy")
    package = sealed.place.sealed.path
    assert (tmp_path / package.name).read_bytes() == package.read_bytes()


def test_look_back_in_the_next_job_begins_at_its_own_entries(sealed):
    sealed.touch("lookback")
    sealed.touch("entry 25")
    sealed.root.go("finish")
    sealed.settle()
    sealed.touch("done")
    sealed.begin("stopped-at-residue")
    sealed.root.go("lookback")
    assert "entry 1" in sealed.actions()


def test_a_disk_pulled_before_the_copy_leaves_the_package_safe(sealed, monkeypatch, tmp_path):
    stick(monkeypatch, tmp_path)
    sealed.root.go("finish")
    sealed.until(lambda: any(a.startswith("copy") for a in sealed.actions()), "the disk")
    copy = next(a for a in sealed.actions() if a.startswith("copy"))
    stick(monkeypatch)
    sealed.touch(copy)
    sealed.until(lambda: "The package is safe on this tablet" in sealed.texts(), "the sentence")
    assert not list(tmp_path.glob("*.zip"))


def test_a_file_that_a_watched_folder_does_not_take_is_told_at_the_camera(tablet, tmp_path):
    incoming = tmp_path / "incoming"
    incoming.mkdir()
    driver = tablet(practice=False, camera=f"folder:{incoming}")
    driver.touch("new")
    driver.touch("enter-serial")
    driver.touch("scan")
    (incoming / "seam.heic").write_bytes(b"not a JPEG")
    driver.until(
        lambda: "seam.heic does not have the name of a JPEG photo" in driver.texts(), "the sentence"
    )
