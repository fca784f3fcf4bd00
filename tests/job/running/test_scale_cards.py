"""Confirmed scale cards: one list for the command line and the tablet, one of them in use."""

from __future__ import annotations

import pytest

from evidence_app.errors import EvidenceError
from evidence_app.job.running import scale_cards


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("EVIDENCE_APP_HOME", str(tmp_path))


def test_nothing_is_in_use_before_a_card_is_confirmed():
    assert scale_cards.card_in_use() is None


def test_confirmed_card_is_in_use_with_its_length():
    scale_cards.confirm_card("NQ-7", 50.1, 0.6)
    card = scale_cards.card_in_use()
    assert (card.serial, card.thickness_mm) == ("NQ-7", 0.6)
    assert card.scale == pytest.approx(50.1 / 50)


def test_another_card_or_none_can_be_chosen():
    scale_cards.confirm_card("NQ-7", 50.1, 0.6)
    scale_cards.confirm_card("NQ-8", 50.0, 0.5)
    scale_cards.use_card("NQ-7")
    assert scale_cards.card_in_use().serial == "NQ-7"
    scale_cards.use_card(None)
    assert scale_cards.card_in_use() is None
    assert set(scale_cards.confirmed_cards()) == {"NQ-7", "NQ-8"}


def test_unknown_card_cannot_be_chosen():
    with pytest.raises(EvidenceError, match="not confirmed"):
        scale_cards.use_card("NQ-9")


def test_serial_that_names_the_choice_is_refused():
    with pytest.raises(EvidenceError, match="serial"):
        scale_cards.confirm_card(scale_cards.IN_USE, 50.0, 0.5)
