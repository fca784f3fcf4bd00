"""Contrast of every text with what it stands on."""

from __future__ import annotations

import pytest

from evidence_app.tablet.presenting import theme


# On white, to three decimals: #777 and #767676 are the pair commonly shown to lie on either
# side of 4.5:1, #595959 the one just over 7:1 (common practice; formula: WCAG 2.2).
@pytest.mark.parametrize(("colour", "ratio"), [
    ("#777777", 4.478), ("#767676", 4.542), ("#595959", 7.005), ("#000000", 21.0),
    ("#FFFFFF", 1.0), ("#FF0000", 3.998), ("#0000FF", 8.592),
])  # fmt: skip
def test_the_formula_gives_known_ratios_on_white(colour, ratio):
    assert theme.contrast(colour, "#FFFFFF") == pytest.approx(ratio, abs=0.001)


@pytest.mark.parametrize(("text", "face"), [(t, f) for t, fs in theme.TEXTS.items() for f in fs])
def test_every_text_reaches_seven_to_one(text, face):
    assert theme.contrast(text, face) >= theme.LEAST_CONTRAST


def test_every_signal_word_stands_on_a_listed_pair():
    assert all(face in theme.TEXTS[text] for face, text in theme.SIGNALS.values())


def test_every_pair_on_the_screen_is_a_listed_one():
    """The tones and faces that the screens name are colours of the palette."""
    import re
    from pathlib import Path

    folder = Path(theme.__file__).parents[1]
    named = {
        name
        for path in folder.rglob("*.py")
        for name in re.findall(r'(?:tone|face|border)="(\w+)"', path.read_text("utf-8"))
    }
    assert named <= set(theme.PALETTE)
