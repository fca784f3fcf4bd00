"""Residue: what is refused, and a slot with and without deposits, by the practice room."""

from __future__ import annotations

import pytest

from evidence_app.photo.measure import measure
from evidence_app.steplist.model import Measurement, MeasurementKind, PhotoWanted

REFERENCE = "slot?seed=500001&stage=before"
AFTER = "slot?seed=500001&stage=after"


def asked(unit: str = "mm2") -> PhotoWanted:
    return PhotoWanted("slot", "The slot", True, Measurement(MeasurementKind.RESIDUE, unit))


@pytest.mark.parametrize(("reference", "second", "unit", "reason"), [
    (None, None, "mm2", "reference"),
    (b"any", None, "mm2", "second"),
    (b"any", b"any", "mm", "unit"),
])
def test_what_is_missing_is_named(reference, second, unit, reason):
    result, drawing = measure(b"any", asked(unit), reference, second=second)
    assert (result["conformity"], result["reasons"], drawing) == ("refused", [reason], None)


def test_what_is_no_photo_is_refused(scene):
    photo = scene(REFERENCE).jpeg()
    result, _ = measure(photo, asked(), b"no photo", second=photo)
    assert (result["conformity"], result["value"]) == ("refused", None)


def test_a_photo_without_the_card_is_refused(scene):
    photo = scene(REFERENCE).jpeg()
    bare = scene("slot?seed=500001&card=0").jpeg()
    result, _ = measure(bare, asked(), photo, second=photo)
    assert result["conformity"] == "refused"
    assert result["sentence"].startswith("The photo:")
