"""Everything can be reached and pressed by keys, with a ring around what has the focus."""

from __future__ import annotations

from evidence_app.locations import sample
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import load_session

TAB, ENTER, ESCAPE = 9, 13, 27


def test_tab_reaches_every_plate_of_a_screen(tablet):
    driver = tablet()
    driver.touch("settings")
    wanted, reached = set(driver.actions()), set()
    for _ in wanted:
        driver.key(TAB)
        ringed = [p for p in driver.root.plates() if p.ringed]
        assert len(ringed) == 1
        reached.add(ringed[0].action)
    assert reached == wanted


def test_enter_presses_what_is_ringed_and_escape_goes_back(tablet):
    driver = tablet()
    driver.key(TAB)
    driver.key(ENTER)
    driver.until(lambda: driver.screen == "newjob", "the new job")
    driver.key(ESCAPE)
    driver.until(lambda: driver.screen == "start", "the first screen")


def test_a_spoken_or_remote_command_presses_the_plate_of_its_name(tablet):
    driver = tablet()
    assert driver.root.act("new")
    driver.until(lambda: driver.screen == "newjob", "the new job")
    assert not driver.root.act("no-such-thing")


def test_practice_is_marked_and_real_work_is_not(tablet):
    driver = tablet()
    assert "PRACTICE" in driver.texts()
    driver.touch("settings")
    driver.touch("practice")
    assert "PRACTICE" not in driver.texts()


def test_tab_reaches_every_plate_of_every_screen_of_a_job(tablet):
    session = load_session(sample("stopped-at-residue.session.toml"))
    driver = tablet(clock=PracticeClock(session.begins))
    driver.begin("stopped-at-residue")
    missed, seen = {}, set()

    def walk(d):
        name = d.screen
        if name not in seen:
            seen.add(name)
            wanted, reached = set(d.actions()), set()
            for _ in range(len(d.actions()) + 1):
                d.key(TAB)
                reached |= {p.action for p in d.root.plates() if p.ringed}
            if wanted - reached:
                missed[name] = wanted - reached
        return d.screen == "hold"

    driver.play(session, walk)
    for screen in ("lookback", "note", "finish"):
        driver.root.go(screen)
        driver.settle()
        walk(driver)
    assert {"prepare", "step", "entry", "camera", "photo", "finding", "hold"} <= seen
    assert not missed
