"""A failing disk or clock takes nothing that was committed. All of them: tests.bench faults."""

from __future__ import annotations

import shutil
import sys

import pytest

from tests.kill.faults import FAULTS, run

pytestmark = pytest.mark.skipif(
    sys.platform != "linux" or shutil.which("cc") is None, reason="needs Linux and a C compiler"
)
TRIED = [
    ("full", 43),
    ("io", 43),
    ("sync", 25),
    ("torn", 43),
    ("ro", 43),
    ("ro", 51),
    ("gone", 43),
    ("gone", 51),
    ("back", 8),
    ("at", 0),
]


@pytest.mark.parametrize(("fault", "at"), TRIED)
def test_nothing_that_was_told_safe_is_lost(tmp_path, fault, at):
    met = run(tmp_path, fault, at)
    assert met.told.events
    assert met.lost == []
    assert not met.traceback
    assert met.left.verified.exit_status == 0


def test_every_fault_is_tried_here():
    assert {fault for fault, _ in TRIED} == {fault for fault, _ in FAULTS.values()}
