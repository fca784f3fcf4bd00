"""Every screen can be made while the garbage collector runs at the worst moment."""

from __future__ import annotations

import gc

import pytest

from evidence_app.tablet.screens import SCREENS, make


@pytest.fixture
def collecting(monkeypatch):
    """Whatever stands nowhere is collected at once."""
    from kivy.uix.boxlayout import BoxLayout

    whole = BoxLayout.remove_widget

    def remove(box, *given, **named):
        whole(box, *given, **named)
        gc.collect()

    monkeypatch.setattr(BoxLayout, "remove_widget", remove)


def test_no_part_of_a_screen_is_collected_while_it_is_made(tablet, collecting):
    driver = tablet()
    for name in SCREENS:
        screen = make(name, driver.root)
        gc.collect()
        assert screen.page.rows is not None, name
