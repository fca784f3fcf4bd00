"""A run killed in the middle of a line is over, and the piece of a line was not said."""

from __future__ import annotations

import os
import signal
import sys

from tests.nursery import Nursery


def main() -> None:
    sys.stdout.write("a whole line\na line that is cu")
    sys.stdout.flush()
    os.kill(os.getpid(), signal.SIGKILL)


def test_what_a_kill_cuts_off_was_not_said():
    nursery = Nursery()
    run = nursery.begin(__name__)
    assert ([*run], run.ended) == (["a whole line\n"], -signal.SIGKILL)
    nursery.end()
