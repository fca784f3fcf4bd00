"""The photo at full detail: moved by one finger, zoomed by two, by keys as well."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

_SIZE = (4000, 3000)
_SQUARE = (1900, 1400, 2100, 1600)
_STRIPES = (2100, 1400, 2300, 1600)
RIGHT = 275


@pytest.fixture(scope="module")
def opened(display, tmp_path_factory):
    """A driver before a photo: a red square on grey, and beside it stripes a pixel wide."""
    from tests.tablet.driver import Driver

    folder = tmp_path_factory.mktemp("photo")
    photo = np.full((_SIZE[1], _SIZE[0], 3), 128, np.uint8)
    left, top, right, low = _SQUARE
    photo[top:low, left:right] = (220, 20, 20)
    left, top, right, low = _STRIPES
    photo[top:low, left:right:2] = 255
    photo[top:low, left + 1 : right : 2] = 0
    Image.fromarray(photo).save(folder / "photo.jpg", quality=98, subsampling=0)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("EVIDENCE_APP_HOME", str(folder / "home"))
        driver = Driver(camera=f"file:{folder / 'photo.jpg'}")
        driver.at_first_step()
        driver.root.go("camera", wanted="front-as-received")
        driver._at_camera(None)
        driver.root.go("photo", wanted="front-as-received")
        driver.until(lambda: not driver.root.screen.pane._waiting, "the whole photo")
        driver.until(lambda: red(driver, folder) is not None, "the photo to be shown")
        # The pane has its place when the offer to take back what was recorded is over.
        driver.until(lambda: "take-back" not in driver.actions(), "the end of the offer")
        yield driver
        driver.end()


@pytest.fixture
def pane(opened):
    opened.touch("whole")
    return opened


def red(driver, folder):
    """Left, lower, right and upper edge of the red square in the window; None: not seen."""
    seen = driver.pixels(folder).astype(int)
    rows, columns = np.nonzero((seen[..., 0] > 160) & (seen[..., 1] < 70) & (seen[..., 2] < 70))
    if not len(rows):
        return None
    height = seen.shape[0]
    return (columns.min(), height - 1 - rows.max(), columns.max() + 1, height - rows.min())


def middle(box):
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


def spread(driver, at, times, tight=30):
    """Two fingers about ``at``, moved apart until ``times`` as far from each other."""
    x, y = at
    wide = tight * times
    driver.fingers(((x - tight, y), (x - wide, y)), ((x + tight, y), (x + wide, y)))


def test_two_fingers_apart_zoom_about_what_is_between_them(pane, tmp_path):
    before = red(pane, tmp_path)
    spread(pane, middle(before), 4)
    after = red(pane, tmp_path)
    assert (after[2] - after[0]) / (before[2] - before[0]) == pytest.approx(4, rel=0.15)
    assert middle(after) == pytest.approx(middle(before), abs=12)


def test_two_fingers_together_bring_back_the_whole_photo_and_no_less(pane, tmp_path):
    before = red(pane, tmp_path)
    x, y = middle(before)
    spread(pane, (x, y), 3)
    for _ in range(2):
        pane.fingers(((x - 120, y), (x - 20, y)), ((x + 120, y), (x + 20, y)))
    assert red(pane, tmp_path) == pytest.approx(before, abs=2)


def test_single_pixels_of_the_photo_can_be_told_apart(pane, tmp_path):
    for _ in range(2):
        spread(pane, middle(red(pane, tmp_path)), 4)
    _, low, right, high = red(pane, tmp_path)
    seen = pane.pixels(tmp_path)
    row = seen[seen.shape[0] - (low + high) // 2, right + 8 : right + 68, 0].astype(int)
    assert row.max() > 220 and row.min() < 35


def test_one_finger_moves_it_and_its_edge_stays_at_the_panes(pane, tmp_path):
    spread(pane, middle(red(pane, tmp_path)), 3)
    x, y = middle(red(pane, tmp_path))
    pane.fingers(((x, y), (x + 60, y - 40)))
    assert middle(red(pane, tmp_path)) == pytest.approx((x + 60, y - 40), abs=3)
    box = pane.root.screen.pane
    left, _ = box.to_window(box.x, box.y)
    for _ in range(12):  # further than the photo goes
        pane.fingers(((left + 20, y), (left + box.width - 20, y)))
    seen = pane.pixels(tmp_path)
    assert seen[seen.shape[0] - int(y), int(left) + 4].tolist() == pytest.approx([128] * 3, abs=6)


def test_it_stays_zoomed_when_the_pane_gets_another_place(pane, tmp_path):
    spread(pane, middle(red(pane, tmp_path)), 3)
    before = red(pane, tmp_path)
    pane.resize((1280, 770))
    after = red(pane, tmp_path)
    pane.resize((1280, 800))
    assert after[2] - after[0] == pytest.approx(before[2] - before[0], abs=2)


def test_keys_zoom_and_move_it(pane, tmp_path):
    before = red(pane, tmp_path)
    pane.touch("closer")
    closer = red(pane, tmp_path)
    assert closer[2] - closer[0] == pytest.approx(2 * (before[2] - before[0]), abs=3)
    pane.key(RIGHT, ("shift",))
    assert middle(red(pane, tmp_path))[0] < middle(closer)[0] - 40
    pane.touch("whole")
    assert red(pane, tmp_path) == pytest.approx(before, abs=2)
