"""The camera before the shot asks to be brought straight above what is measured."""

from __future__ import annotations

import pytest

from evidence_app.photo.gate.check import Check
from evidence_app.photo.gate.live import Aim, LiveLook
from evidence_app.sentence import sentence
from evidence_app.tablet.presenting.working.photo import meters


@pytest.mark.parametrize(
    ("lean_deg", "aimed", "holds"), [(2.0, True, True), (8.0, True, False), (8.0, False, True)]
)
def test_the_card_is_right_once_the_camera_is_above_the_seam_that_is_measured(lean_deg, aimed, holds):
    good = Check("good", 4.0, 4.0, "", True, sentence("The edges are sharp."))
    straight = Check("tilt", 1.0, 10.0, "degrees", True, good.sentence)
    seen = LiveLook(good, straight, Aim((0.5, 0.5), lean_deg), good, good, good, good)
    card = meters(seen, True, aimed)[0]
    assert card.holds is holds
    assert ("ring" in card.words) is not holds
