"""Both themes: the contrast of every text and shape with what it stands on, and what is drawn."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from evidence_app.tablet.presenting import theme
from tests.contrast import contrast

BOTH = ("dark", "bright")


def _contrast(one: str, other: str) -> float:
    return contrast(theme.rgb(one), theme.rgb(other))


@pytest.fixture(autouse=True)
def _dark_again():
    yield
    theme.use("dark")


# On white, to three decimals: #777 and #767676 are the pair commonly shown to lie on either
# side of 4.5:1, #595959 the one just over 7:1 (common practice; formula: WCAG 2.2).
@pytest.mark.parametrize(("colour", "ratio"), [
    ("#777777", 4.478), ("#767676", 4.542), ("#595959", 7.005), ("#000000", 21.0),
    ("#FFFFFF", 1.0), ("#FF0000", 3.998), ("#0000FF", 8.592),
])  # fmt: skip
def test_the_formula_gives_known_ratios_on_white(colour, ratio):
    assert _contrast(colour, "#FFFFFF") == pytest.approx(ratio, abs=0.001)


@pytest.mark.parametrize("used", BOTH)
@pytest.mark.parametrize(("text", "face"), [(t, f) for t, fs in theme.TEXTS.items() for f in fs])
def test_every_text_reaches_seven_to_one(used, text, face):
    theme.use(used)
    assert _contrast(text, face) >= 7.0


@pytest.mark.parametrize("used", BOTH)
@pytest.mark.parametrize(("shape", "face"), [(s, f) for s, fs in theme.SHAPES.items() for f in fs])
def test_every_shape_reaches_three_to_one(used, shape, face):
    theme.use(used)
    assert _contrast(shape, face) >= 3.0


@pytest.mark.parametrize("used", BOTH)
@pytest.mark.parametrize("word", theme.SIGNALS)
def test_the_panel_of_a_signal_word_or_its_bar_stands_out_from_the_page(used, word):
    theme.use(used)
    assert max(_contrast(colour, "ground") for colour in theme.SIGNALS[word]) >= 3.0


def test_the_safety_colours_are_the_same_in_both():
    faces = {face for face, _ in theme.SIGNALS.values()}
    assert {theme.THEMES["dark"][f] for f in faces} == {theme.THEMES["bright"][f] for f in faces}


def test_every_signal_word_stands_on_a_listed_pair():
    assert all(face in theme.TEXTS[text] for face, text in theme.SIGNALS.values())


def test_both_themes_name_the_same_colours_and_every_one_that_a_screen_names():
    folder = Path(theme.__file__).parents[1]
    named = {
        name
        for path in folder.rglob("*.py")
        for name in re.findall(r'(?:tone|face|border)="(\w+)"|paint\("(\w+)"\)', path.read_text("utf-8"))
        for name in name
        if name
    }
    assert set(theme.THEMES["dark"]) == set(theme.THEMES["bright"])
    assert len(named) > 8
    assert named <= set(theme.THEMES["dark"])


def shares(driver, folder) -> dict[str, float]:
    """How much of the window is in the ground's colour of each theme."""
    seen = driver.pixels(folder).reshape(-1, 3)
    found = {}
    for name in BOTH:
        code = theme.THEMES[name]["ground"]
        ground = [int(code[at : at + 2], 16) for at in (1, 3, 5)]
        found[name] = (abs(seen.astype(int) - ground) <= 2).all(axis=1).mean()
    return found


def test_the_bright_theme_is_chosen_by_hand_and_kept(tablet, tmp_path):
    from evidence_app.tablet.settings import load_settings

    driver = tablet(size=(1280, 800))
    driver.touch("settings")
    before = shares(driver, tmp_path)
    driver.touch("theme")
    after = shares(driver, tmp_path)
    assert before["dark"] > 0.2 > 0.01 > before["bright"]
    assert after["bright"] > 0.2 > 0.01 > after["dark"]
    assert load_settings()[0].theme == "bright"


def test_switching_to_and_fro_changes_no_pixel_of_a_step(tablet, tmp_path):
    """What is drawn anew in a theme and what was drawn in the other one look the same."""
    driver = tablet(size=(1024, 600), theme="bright")
    driver.at_first_step()
    driver.pass_frames(1)
    driver.wait_for_the_guard()
    drawn = driver.pixels(tmp_path)
    driver.place.change_settings(theme="dark")
    driver.settle()
    driver.place.change_settings(theme="bright")
    driver.settle()
    assert (driver.pixels(tmp_path) == drawn).all()


def test_practice_and_a_hazard_are_told_in_words_in_the_bright_theme(tablet):
    driver = tablet(size=(1024, 600), theme="bright")
    driver.at_first_step()
    assert "PRACTICE: nothing here is evidence" in driver.texts()
    assert "DANGER" in driver.texts().split("\n")
