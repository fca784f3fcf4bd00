"""The screen is measured with the scale card; what is touched is then 12 mm on its shortest side."""

from __future__ import annotations

import pytest
from kivy.metrics import Metrics

from evidence_app.machine.screen import pixels_per_mm
from evidence_app.tablet.settings import load_settings

TABLET = 1920 / 215.4
"""Pixels per mm of a screen of 10 inch (254 mm) and 16 to 10."""


@pytest.fixture(autouse=True)
def _density_again():
    yield
    Metrics.density = 1


def test_a_measured_screen_has_touch_targets_of_12_mm(tablet):
    from tests.tablet.layout import faults

    driver = tablet(size=(1920, 1200))
    driver.touch("settings")
    driver.touch("ruler")
    while bar(driver) < TABLET * 50:
        driver.touch("much-longer")
    while bar(driver) > TABLET * 50:
        driver.touch("shorter")
    driver.touch("as-long")
    assert load_settings()[0].pixels_per_mm == pytest.approx(TABLET, abs=1 / 50)
    small = {}
    for door in ("settings", "new"):
        driver.root.go("start")
        driver.settle()
        driver.touch(door)
        small |= {p.action: p.size for p in driver.root.plates() if min(p.size) < 12 * TABLET - 1}
        assert not faults(driver.root)
    assert small == {}


def bar(driver) -> float:
    """Its length in pixels: what lies widest in the page apart from the plates."""
    from evidence_app.tablet.screens.setting.ruler import _Bar
    from tests.tablet.driver import walk

    return next(w.width for w in walk(driver.root) if isinstance(w, _Bar))


def edid(across: int, mm: int) -> bytes:
    """A base block with one detailed timing (VESA Enhanced EDID Standard, release A, 3.10.2; the
    bytes are read by edid-decode as the same pixels and mm)."""
    timing = bytearray(18)
    timing[0:2] = (0x20, 0x4E)  # any pixel clock: without one the block is no timing
    timing[2], timing[4] = across & 0xFF, across >> 8 << 4
    timing[12], timing[14] = mm & 0xFF, mm >> 8 << 4
    return bytes(54) + bytes(timing) + bytes(56)


@pytest.mark.parametrize(
    ("screens", "per_mm"),
    [
        ({"card0-DSI-1": (1920, 217)}, 8.848),
        ({"card0-DSI-1": (1024, 154), "card0-HDMI-A-1": None}, 6.649),
        ({"card0-DSI-1": (1920, 217), "card0-HDMI-A-1": (1920, 527)}, None),
        ({"card0-DSI-1": (1920, 0)}, None),
        ({"card0-DSI-1": (1920, 16)}, None),  # an aspect ratio in the place of a size
        ({}, None),
    ],
)
def test_what_a_screen_says_of_itself(tmp_path, screens, per_mm):
    for name, said in screens.items():
        (tmp_path / name).mkdir()
        (tmp_path / name / "edid").write_bytes(edid(*said) if said else b"")
    assert pixels_per_mm(tmp_path) == pytest.approx(per_mm, abs=0.001)
