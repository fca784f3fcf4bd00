"""A photo and its clean reference in one place, with a line between them, at the finding."""

from __future__ import annotations

from itertools import pairwise

import cv2
import numpy as np
import pytest

from evidence_app.locations import sample
from evidence_app.photo.card.seen import see_card
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import load_session
from tests.tablet.talking import at_work

TAB, ENTER, RIGHT = 9, 13, 275


def _at_finding(tablet, name, step, **given):
    session = load_session(sample(f"{name}.session.toml"))
    clock = PracticeClock(session.begins)
    folder = at_work(session, clock, step)
    driver = tablet(clock=clock, **given)
    driver.looks_again = False
    driver.place.resume(folder, driver.root.home)
    driver.until(lambda: driver.job is not None, "the job")
    driver.settle()
    driver.place.dismiss("resumed")
    driver.play(session, lambda d: d.screen == "finding" and d.job.state.step == step)
    return driver


@pytest.fixture
def over(tablet):
    """At a finding, the clean reference over the photo."""
    driver = _at_finding(tablet, "stopped-at-residue", "inspect-slots")
    driver.touch("compare")
    _loaded(driver)
    return driver


def _loaded(driver) -> None:
    driver.until(lambda: not driver.place.worker.busy, "the pictures")
    driver.settle()
    panes = driver.root.screen._pair.first, driver.root.screen._pair.second
    driver.until(lambda: not any(pane._waiting for pane in panes), "all of the pictures")


def _seen(driver, folder) -> np.ndarray:
    """What the window shows of the pictures above the handle of the line, (H, W, 3) uint8 RGB."""
    pane, handle = driver.root.screen.pane, driver._plate("line")
    left, low = pane.to_window(pane.x, handle.y + handle.height + 4)
    whole = driver.pixels(folder)
    height = whole.shape[0]
    top = int(height - pane.to_window(*pane.pos)[1] - pane.height)
    return whole[top : int(height - low), int(left) : int(left + pane.width)].astype(int)


def _drag(driver, to: float) -> None:
    """The line, by its handle, to that share of the width."""
    plate, pane = driver._plate("line"), driver.root.screen.pane
    here = plate.to_window(*plate.center)
    driver.fingers((here, (pane.to_window(pane.x, 0)[0] + to * pane.width, here[1])))


def _both(driver, folder) -> tuple[np.ndarray, np.ndarray]:
    """The photo alone and the reference alone, as they lie now."""
    _drag(driver, 1.1)
    photo = _seen(driver, folder)
    _drag(driver, -0.1)
    return photo, _seen(driver, folder)


def _corners(picture: np.ndarray) -> np.ndarray:
    found = see_card(cv2.cvtColor(picture.astype(np.uint8), cv2.COLOR_RGB2GRAY)).corners
    assert found is not None
    return found


def test_left_of_the_line_is_the_photo_and_right_of_it_the_reference(over, tmp_path):
    before = over.job.state.sequence
    photo, reference = _both(over, tmp_path)
    _drag(over, 0.5)
    seen, middle, edge = _seen(over, tmp_path), photo.shape[1] // 2, 8
    assert np.abs(photo - reference).mean() > 1
    assert np.abs(seen - photo)[:, : middle - edge].max() < 3
    assert np.abs(seen - reference)[:, middle + edge :].max() < 3
    assert over.job.state.sequence == before


def test_the_card_lies_on_the_card(over, tmp_path):
    photo, reference = _both(over, tmp_path)
    assert np.abs(_corners(photo) - _corners(reference)).max() < 3
    assert "Laid over it by the scale card" in over.texts()


def test_both_are_zoomed_by_two_fingers_and_moved_by_keys(over, tmp_path):
    pane = over.root.screen.pane
    x, y = pane.to_window(*pane.center)
    seen = [_both(over, tmp_path)]
    over.fingers(((x - 30, y), (x - 75, y)), ((x + 30, y), (x + 75, y)))
    seen.append(_both(over, tmp_path))
    over.key(RIGHT, ("shift",))
    seen.append(_both(over, tmp_path))
    for before, after in pairwise(photo for photo, _ in seen):
        assert np.abs(after - before).mean() > 5
    for photo, reference in seen:
        (right, down), _ = cv2.phaseCorrelate(photo.mean(axis=2), reference.mean(axis=2))
        assert max(abs(right), abs(down)) < 3


def test_a_key_moves_the_line_and_from_its_end_back_to_its_beginning(over):
    ring = over.app.ring
    while ring.ringed is None or ring.ringed.action != "line":
        over.key(TAB)
    at = []
    for _ in range(9):
        over.key(ENTER)
        over.settle()
        at.append(over._plate("line").center_x)
    assert over._plate("line").ringed
    assert at[:4] == sorted(set(at[:4])) and at[4:] == sorted(set(at[4:])) and at[8] < at[0]


def test_fingers_on_either_of_two_beside_each_other_zoom_both(tablet, tmp_path):
    driver = _at_finding(tablet, "stopped-at-residue", "inspect-slots")
    _loaded(driver)
    first, second = driver.root.screen._pair.first, driver.root.screen._pair.second

    def wide(pane) -> float:
        whole = driver.pixels(tmp_path)
        left, low = pane.to_window(*pane.pos)
        rows = slice(int(whole.shape[0] - low - pane.height), int(whole.shape[0] - low))
        return float(np.ptp(_corners(whole[rows, int(left) : int(left + pane.width)])[..., 0]))

    before = wide(first), wide(second)
    x, y = second.to_window(*second.center)
    driver.fingers(((x - 30, y), (x - 35, y)), ((x + 30, y), (x + 35, y)))
    after = wide(first), wide(second)
    assert np.divide(after, before) == pytest.approx([35 / 30] * 2, rel=0.08)


def test_a_photo_that_was_taken_again_is_compared_with_the_take_before(tablet):
    driver = _at_finding(tablet, "retaken-and-gauged", "measure-gap")
    _loaded(driver)
    seen = []
    for _ in range(3):
        seen.append(driver._plate("compare").text)
        driver.touch("compare")
        _loaded(driver)
    assert seen == ["Earlier take beside it", "Earlier take over it", "This photo alone"]
    assert driver._plate("line") is None


@pytest.mark.parametrize("size", [(1024, 600), (600, 1024)])
def test_all_choices_stay_in_view_while_two_lie_in_one_place(tablet, size):
    from tests.tablet.layout import faults, seen_whole

    given = {"size": size, "text_size": 200, "language": "de"}
    driver = _at_finding(tablet, "stopped-at-residue", "inspect-slots", **given)
    driver.touch("compare")
    _loaded(driver)
    seen = seen_whole(driver.root)
    assert [a for a in driver.actions() if a.startswith("finding ") and a not in seen] == []
    assert "line" in seen and {"Jetzt", "Sauber"} <= set(seen)
    assert not faults(driver.root)
