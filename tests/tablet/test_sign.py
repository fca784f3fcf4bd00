"""The listening sign says how it stands, and what helps only where something is to be done."""

from __future__ import annotations

import pytest

from evidence_app.sentence import sentence
from evidence_app.tablet.presenting.voice import sign_shown

REMEDY = sentence("run the set-up again")


@pytest.mark.parametrize("reason", ["", "settings", "ended", "engine", "microphone"])
def test_what_helps_is_said_while_it_is_off(reason):
    assert sign_shown("off", reason, helps=REMEDY).hint == "run the set-up again"


@pytest.mark.parametrize(
    "state", ["listening", "hearing", "other", "speaking", "interruptible", "noting", "muted", "starting"]
)
def test_what_helped_once_is_not_said_while_it_listens(state):
    assert sign_shown(state, helps=REMEDY) == sign_shown(state)


def test_a_microphone_that_is_lost_is_waited_for():
    assert sign_shown("off", "lost", helps=REMEDY).hint == "It waits; touch to end it"
