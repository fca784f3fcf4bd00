"""A finger in a glove that bounces does once what a single touch does, and nothing more."""

from __future__ import annotations

from collections import Counter
from itertools import cycle

import pytest
from kivy.base import EventLoop
from kivy.core.window import Window

from evidence_app.job import commands as c
from evidence_app.locations import sample
from evidence_app.package.verify.check import verify
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import load_session
from evidence_app.tablet.widgets.sizes import GUARD_S
from tests.tablet.content import essence
from tests.tablet.test_play import by_command_line

_GAPS_S = (0.05, 0.4, 0.1, 0.2, 0.3)
"""Common practice, no source."""
_TIMES = 3
"""How often a bounce tries one plate of one screen: it means the same at the hundredth photo."""
ENTER = 13


class Bouncing:
    """Lets each touch bounce: at its own place, and on a screen that it opened at every plate."""

    def __init__(self, driver) -> None:
        self.driver, self.hit = driver, Counter()
        self._gaps, self._before = cycle(_GAPS_S), self._where()
        self._meanings = {plate.meaning for plate in self._plates()}
        driver.after_touch = self.bounce

    def _where(self):
        return self.driver.root.visit, self.driver.root.screen.about()

    def _plates(self) -> list:
        """Each with what it means now: one that was made since the last look means nothing yet."""
        self.driver.root.guard.look()
        return self.driver.root.plates()

    def bounce(self, finger) -> None:
        driver = self.driver
        driver.hand_s += 0.05
        driver.tap(finger.x, finger.y)
        driver.settle()
        plates = self._opened() if self._where() != self._before else []
        # All of them or none: a place that was not tried again would take a later touch.
        if any(self.hit[here] < _TIMES for here, _, _ in plates):
            driver.hand_s += 0.35
            for here, x, y in plates:
                self.hit[here] += 1
                driver.tap(x, y)
        for _ in range(2):
            driver.hand_s += next(self._gaps)
            driver.tap(finger.x, finger.y)
        driver.settle()
        self._before = self._where()
        self._meanings = {plate.meaning for plate in self._plates()}

    def _opened(self) -> list[tuple[tuple[str, str], float, float]]:
        """(screen, action) and place of each plate that was not there before the touch."""
        opened = []
        for plate in self._plates():
            x, y = plate.to_window(*plate.center)
            stays = plate.meaning in self._meanings  # as the sign in the head does
            if not stays and 0 < x < Window.width and 0 < y < Window.height:
                opened.append(((self.driver.screen, plate.action.split(" ")[0]), x, y))
        return opened


def test_bounces_at_every_plate_of_a_session_record_what_single_touches_do(tablet, tmp_path):
    name = "stopped-at-residue"
    session = load_session(sample(f"{name}.session.toml"))
    driver = tablet(size=(1024, 600), clock=PracticeClock(session.begins))
    bouncing = Bouncing(driver)
    driver.begin(name)
    driver.play(session)
    driver.settle()
    assert essence(driver.job.record.events) == by_command_line(
        session, tmp_path / "other", driver.job.record
    )
    screens = {screen for screen, _ in bouncing.hit}
    assert {"newjob", "prepare", "step", "entry", "camera", "photo", "finding", "stop"} <= screens
    result = verify(driver.seal(), accept_practice=True)
    assert not result.failed, result.failed


def test_a_digit_touched_twice_quickly_counts_once_and_that_is_said(tablet):
    driver = tablet(size=(1024, 600))
    driver.at_first_step()
    driver.touch("main")
    driver.after_touch = Bouncing(driver).bounce
    driver.touch("key 1")
    assert driver.root.screen._value == "1"
    assert "“1” was touched twice quickly" in driver.texts()


def test_a_key_that_repeats_presses_once(tablet):
    driver = tablet(size=(1024, 600))
    driver.begin("completed")
    ring = driver.app.ring
    while ring.ringed is None or ring.ringed.action != "acknowledge":
        ring.move(1)
    driver.key(ENTER)
    for _ in range(40):
        driver.hand_s += 0.03
        driver.tap_key(ENTER)
        driver.settle()
    kinds = [e.kind for e in driver.job.record.events]
    assert kinds.count("caution-acknowledged") == 1


def test_a_touch_that_began_before_the_screen_changed_does_nothing(tablet):
    from kivy.tests.common import UnitTestTouch

    driver = tablet(size=(1024, 600))
    driver.at_first_step()
    plate = driver._plate("main")
    driver.wait_for_the_guard()
    finger = UnitTestTouch(*plate.to_window(*plate.center))
    finger.touch_down()
    EventLoop.idle()
    driver.root.go("note")
    driver.settle()
    driver.wait_for_the_guard()
    before = driver.screen, driver.job.state.sequence
    finger.touch_up()
    driver.settle()
    assert (driver.screen, driver.job.state.sequence) == before


def test_a_plate_that_takes_no_touch_fills_until_it_does(tablet):
    driver = tablet(size=(1024, 600))
    driver.at_first_step()
    driver.root.go("note")

    def filled(part: float) -> bool:
        """Again from nought while the new screen is being laid out."""
        plate = driver._plate("start-note")
        if plate.ready == 0:
            driver.hand_s += part * GUARD_S
        driver.root.guard.look()
        return plate.ready == pytest.approx(part)

    driver.until(lambda: filled(0.5), "half of it")
    driver.root.guard.look()
    assert not driver.root.guard.takes(driver._plate("start-note"), driver.hand_s)
    driver.until(lambda: filled(1.0), "all of it")
    assert driver.root.guard.takes(driver._plate("start-note"), driver.hand_s)


@pytest.mark.parametrize("move", ["acknowledge", "tick", "next"])
def test_every_move_forward_can_be_taken_back_for_five_seconds(tablet, move):
    driver = tablet(size=(1024, 600), clock=PracticeClock("2026-03-02T08:00:00.000+01:00"))
    driver.begin("completed")
    while move not in (a.split(" ")[0] for a in driver.actions()):
        owed = next(o for o in driver.job.owed if o.kind in ("caution", "item"))
        driver.job.do(
            c.AcknowledgeCaution(owed.id) if owed.kind == "caution" else c.TickItem(owed.list, owed.id)
        )
        driver.place.changed()
        driver.settle()
    before, screen = driver.job.state, driver.screen
    driver.touch(next(a for a in driver.actions() if a.split(" ")[0] == move))
    assert "possible for 5 seconds" in driver.texts()
    driver.touch("take-back")
    after = driver.job.state
    assert driver.screen == screen
    assert (after.cautions, after.ticked, after.step) == (before.cautions, before.ticked, before.step)
