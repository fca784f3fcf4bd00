"""A camera's focus and exposure: offered where set and read back, and set as asked.

No camera with controls can be had everywhere: a capture that keeps what is set, or does not,
stands for one here."""

from __future__ import annotations

import cv2
import pytest

from evidence_app.devices.controls import Controls

FOCUS, MODE, TIME = cv2.CAP_PROP_AUTOFOCUS, cv2.CAP_PROP_AUTO_EXPOSURE, cv2.CAP_PROP_EXPOSURE


class Capture:
    """Keeps what it ``has``; what is ``stuck`` says yes to everything and stays as it was."""

    def __init__(self, has: dict[int, float], stuck: tuple[int, ...] = ()) -> None:
        self.has, self._stuck = dict(has), stuck

    def get(self, what: int) -> float:
        return self.has.get(what, 0.0)

    def set(self, what: int, value: float) -> bool:
        if what in self.has and what not in self._stuck:
            self.has[what] = float(value)
        return what in self.has


ALL = {FOCUS: 1.0, MODE: 3.0, TIME: 156.0}


@pytest.mark.parametrize(
    ("has", "stuck", "offered"),
    [
        (ALL, (), {"focus", "exposure"}),
        ({}, (), set()),
        (ALL, (FOCUS,), {"exposure"}),
        (ALL, (TIME,), {"focus"}),
        (ALL, (MODE,), {"focus"}),
        ({**ALL, FOCUS: 0.0}, (), {"exposure"}),
        ({**ALL, MODE: 1.0}, (), {"focus"}),
        ({**ALL, TIME: 0.0}, (), {"focus"}),
    ],
)
def test_only_what_is_read_back_is_offered_and_all_is_left_as_found(has, stuck, offered):
    capture = Capture(has, stuck)
    assert set(Controls(capture).offers) == offered
    assert {k: capture.has[k] for k in has if k != TIME} == {k: has[k] for k in has if k != TIME}


def test_darker_halves_and_brighter_doubles_what_the_camera_chose():
    capture = Capture(ALL)
    controls = Controls(capture)
    capture.has[TIME] = 100.0
    seen = []
    for value in ("darker", "brighter", "automatic"):
        controls.follow({"exposure": value})
        seen.append((capture.has[MODE], capture.has[TIME]))
    assert seen[:2] == [(1.0, 50.0), (1.0, 200.0)] and seen[2][0] == 3.0


def test_focus_is_held_and_let_go():
    capture = Capture(ALL)
    controls = Controls(capture)
    controls.follow({"focus": "held"})
    assert capture.has[FOCUS] == 0.0
    controls.follow({"focus": "automatic"})
    assert capture.has[FOCUS] == 1.0
