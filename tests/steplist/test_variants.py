"""A list is run for exactly one of its variants, or for none when it has none."""

from __future__ import annotations

import pytest

from evidence_app.errors import EvidenceError
from evidence_app.locations import sample
from evidence_app.steplist.load import load
from evidence_app.steplist.variants import steps_for, variant_ids
from tests.steplist.valid import VALID, read


def ids(steps) -> list[str]:
    return [step.id for step in steps]


@pytest.fixture(scope="module")
def plain():
    return load(sample("ossmere-h7-bail-stand-exchange.toml"))


def test_steps_of_a_variant_leave_the_others_out():
    assert ids(steps_for(read(VALID), "short")) == ["identify", "look", "press"]


def test_steps_of_a_variant_hold_its_own_in_their_place():
    assert ids(steps_for(read(VALID), "long")) == ["identify", "look", "extend", "press"]


def test_variants_are_named_in_the_order_of_the_file():
    assert variant_ids(read(VALID)) == ("short", "long")


def test_list_without_variants_is_run_whole(plain):
    assert steps_for(plain, None) == plain.steps


def test_unknown_variant_is_refused_with_the_known_ones():
    with pytest.raises(EvidenceError) as caught:
        steps_for(read(VALID), "wide")
    assert caught.value.sentence() == (
        'step list lamp-lens 1.0: there is no variant "wide". Name one of: short, long.'
    )


def test_missing_variant_is_refused_with_the_known_ones():
    with pytest.raises(EvidenceError, match=r"none was named\. Name one of: short, long\."):
        steps_for(read(VALID), None)


def test_variant_of_a_list_without_variants_is_refused(plain):
    with pytest.raises(EvidenceError, match=r"this list has no variants\. Leave the variant out"):
        steps_for(plain, "short")
