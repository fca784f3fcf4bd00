"""Nothing is cut off and nothing overlaps, on every screen, at every size and text size."""

from __future__ import annotations

import pytest

from evidence_app.locations import sample
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import load_session

_LOOKS = [
    ((1280, 800), 100, "en"),
    ((1024, 600), 200, "de"),
    ((600, 1024), 200, "en"),
    ((2560, 1600), 150, "de"),
]


@pytest.mark.parametrize(("size", "percent", "language"), _LOOKS)
def test_nothing_is_cut_off_or_overlaps(tablet, size, percent, language):
    from tests.tablet.layout import faults

    session = load_session(sample("stopped-at-residue.session.toml"))
    theme = "bright" if size == (1024, 600) else "dark"
    clock = PracticeClock(session.begins)
    driver = tablet(size=size, clock=clock, text_size=percent, language=language, theme=theme)
    found, seen = {}, set()

    def check(name=None):
        driver.settle()
        name = name or driver.screen
        seen.add(name)
        wrong = faults(driver.root)
        if wrong:
            found[name] = wrong

    check()
    for door in ("settings", "new"):
        driver.touch(door)
        check()
        if door == "settings":
            driver.touch("ruler")
            check()
            driver.touch("back")
        driver.touch("back")
    driver.begin("stopped-at-residue")
    driver.touch("leave")
    driver.until(lambda: "find" in driver.actions(), "the jobs")
    driver.type("h7")
    check("jobs found")
    driver.touch(next(a for a in driver.actions() if a.startswith("job ")))

    def look(d):
        name = d.screen if d.screen != "entry" else f"entry {d.root.screen._numeric}"
        if name not in seen:
            check(name)
        return d.job.state.step == "check-ground" and d.screen == "step"

    driver.play(session, look)
    driver.root.go("photo", sha256=driver.job.state.photos[0].sha256, back="home")
    driver.settle()
    check()
    driver.touch("back")
    for action, name in (("main", "entry True"), ("note", None), ("lookback", None)):
        driver.touch(action)
        check(name)
        driver.touch("back")
    driver.root.go("finish")
    check()
    driver.root.go("step")
    driver.settle()
    driver.touch("stop")
    check("asking")
    driver.touch("stop-repair")
    check("reasons offered")
    driver.touch("swap-offered")
    check("reason on the keys")
    driver.type("The lamp failed.")
    driver.touch("record")
    check()
    assert {"start", "step", "camera", "photo", "finding", "stop", "entry True"} <= seen
    assert not found


@pytest.mark.parametrize("size", [(1024, 600), (600, 1024)])
def test_choices_and_countdown_are_seen_without_scrolling(tablet, size):
    """In large text on a small screen, whose texts are longer in German."""
    from tests.tablet.layout import seen_whole

    session = load_session(sample("stopped-at-residue.session.toml"))
    clock = PracticeClock(session.begins)
    driver = tablet(size=size, clock=clock, text_size=200, language="de", listening=False)
    driver.begin("stopped-at-residue")
    hidden, looked = [], set()

    def look(d):
        if d.screen == "finding":
            wanted = [action for action in d.actions() if action.startswith("finding ")]
        elif d.screen == "hold":
            wanted = [d.root.screen._clock.text]
        else:
            return False
        looked.add(d.screen)
        d.settle()
        seen = seen_whole(d.root)
        hidden.extend((d.job.state.step, each) for each in wanted if each not in seen)
        return len(looked) == 2 and (size[0] < size[1] or d.job.state.stop is not None)

    driver.play(session, look)
    assert looked == {"finding", "hold"}
    assert not hidden
