"""A step's pictures are shown large, kept with the job, and never another one in their place."""

from __future__ import annotations

import shutil

import pytest

from evidence_app.locations import sample
from evidence_app.steplist.load import load

FIRST = "picture pictures/identify.png"


def own_list(home):
    """The sample list with its pictures in the tablet's own folder, chosen for a new job."""
    folder = home / "step-lists"
    shutil.copytree(sample("pictures"), folder / "pictures")
    return shutil.copy(sample("ossmere-h7-window-rebond.toml"), folder / "own.toml")


def begin(driver, path):
    """Into a job of the list at ``path``, up to its first step."""
    driver.touch("new")
    driver.touch("unit")
    driver.touch("unit completed")
    driver.touch("choose-list")
    driver.touch(f"list {path.stem}")
    driver.touch("open")
    driver.until(lambda: driver.job is not None, "the job")
    driver.settle()
    while driver.screen == "prepare":
        driver._at_prepare(None)
        driver.settle()


def shown(driver):
    return driver._plate(FIRST).picture


def test_a_touch_fills_the_page_with_the_picture_and_another_leads_back(tablet):
    driver = tablet()
    driver.at_first_step()
    driver.settle()
    beside = driver._plate(FIRST)
    assert beside.picture is not None
    driver.touch(FIRST)
    driver.settle()
    whole = driver._plate("whole")
    assert whole.picture is not None
    assert whole.height > beside.height * 1.3
    driver.touch("whole")
    driver.settle()
    assert FIRST in driver.actions()


@pytest.mark.parametrize("size", [(1280, 800), (1024, 600), (800, 1280)])
def test_what_the_step_asks_for_is_in_view_beside_its_picture(tablet, size):
    driver = tablet(size=size)
    driver.at_first_step()
    driver.settle()
    page = driver.root.screen.page
    task = driver._plate("reading serial-number")
    middle = task.to_window(task.center_x, task.center_y)[1]
    assert middle >= page.to_window(page.x, page.y)[1]


def test_a_job_shows_its_pictures_after_the_lists_folder_is_gone(tablet, home):
    from kivy.cache import Cache

    path = own_list(home)
    driver = tablet()
    begin(driver, path)
    driver.touch("leave") if "leave" in driver.actions() else driver.root.screen.pause()
    driver.settle()
    shutil.rmtree(home / "step-lists")
    Cache.remove("evidence-app.steps")
    driver.touch(next(a for a in driver.actions() if a.startswith("job ")))
    driver.settle()
    assert shown(driver) is not None


@pytest.mark.parametrize("harm", ["missing", "another"])
def test_a_picture_that_is_not_the_one_named_is_not_shown_and_the_job_goes_on(tablet, home, harm):
    from kivy.cache import Cache

    Cache.remove("evidence-app.steps")
    path = own_list(home)
    picture = path.parent / "pictures/identify.png"
    picture.unlink()
    if harm == "another":
        shutil.copy(sample("pictures/discharge.png"), picture)
    driver = tablet()
    begin(driver, path)
    words = load(path).steps[0].pictures[0].shows
    assert f"missing or was altered. It shows: {words}" in driver.texts()
    assert FIRST not in driver.actions()
    driver.touch("main")
    assert driver.screen == "entry"
