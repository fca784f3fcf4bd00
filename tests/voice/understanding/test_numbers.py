"""Spoken numbers and spelled serials are read strictly."""

from __future__ import annotations

import pytest

from evidence_app.voice.understanding.numbers import (
    NotAValue,
    confusable_with,
    read_back,
    spoken_number,
    spoken_serial,
)


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("zero point two", "0.2"),
        ("Zero point two zero.", "0.20"),
        ("nought point oh five", "0.05"),
        ("point five", "0.5"),
        ("0.2", "0.2"),
        (".25", "0.25"),
        ("twelve point 7", "12.7"),
        ("one two point three four", "12.34"),
        ("One hundred and twenty.", "120"),
        ("one hundred twenty", "120"),
        ("a hundred and five", "105"),
        ("twenty-five", "25"),
        ("fifteen", "15"),
        ("fifty", "50"),
        ("two thousand and five", "2005"),
        ("twelve thousand three hundred and forty-one", "12341"),
        ("1,200", "1200"),
        ("one two zero", "120"),
        ("1 2 0", "120"),
        ("minus four point five", "-4.5"),
        ("-4.5", "-4.5"),
        ("seven niner", "79"),
        ("zero zero seven", "7"),
        ("zero dot two five", "0.25"),
        ("oh point one two", "0.12"),
        ("not point one five", "0.15"),
        ("Or point one five.", "0.15"),
        ("point free too", "0.32"),
        ("um nought point one please", "0.1"),
        ("it is one point five", "1.5"),
        ("a quarter", "0.25"),
        ("three quarters", "0.75"),
        ("half", "0.5"),
        ("one and a half", "1.5"),
        ("twelve hundredths", "0.12"),
        ("12 hundredths", "0.12"),
        ("three tenths", "0.3"),
    ],
)
def test_a_number_is_read_with_the_digits_that_were_said(said, value):
    assert spoken_number(said, None, 2) == value


@pytest.mark.parametrize(
    "said",
    [
        "",
        "and",
        "point",
        "zero point",
        "one twenty",
        "fifteen twenty",
        "twenty fifteen",
        "hundred",
        "hundred and",
        "one hundred and",
        "zero hundred",
        "two point twenty five",
        "one point two point three",
        "thousand",
        "one thousand and two hundred",
        "twenty zero",
        "about five",
        "five or six",
        "five please send help",
        "minus",
        "minus minus five",
        "one million",
        "²",
        "٣",
        "to",
        "1,20",
        "one hundred hundred",
        "oh",
        "480 7",
        "not five",
        "a quarter half",
        "quarter past two",
        "five tenths six",
        "600 83",
        "40 40",
    ],
)
def test_anything_else_is_no_number(said):
    assert isinstance(spoken_number(said, None, 2), NotAValue)


@pytest.mark.parametrize(
    "said",
    [
        "zero point two millimetres",
        "0.2 mm",
        "0.2mm.",
        "zero point two",
        "0.2 millimeters",
        "two tenths of a millimetre",
    ],
)
def test_the_unit_asked_for_may_be_said_or_left_out(said):
    assert spoken_number(said, "mm", 2) == "0.2"


def test_another_unit_is_refused_by_name():
    found = spoken_number("two centimetres", "mm", 2)
    assert found.code == "other-unit"
    assert "centimetres" in str(found.sentence)


def test_a_unit_is_refused_where_none_is_asked_for():
    assert isinstance(spoken_number("two newtons", None, 2), NotAValue)


def test_a_unit_alone_is_no_number():
    assert isinstance(spoken_number("millimetres", "mm", 2), NotAValue)


def test_more_decimals_than_asked_for_are_refused():
    assert spoken_number("zero point two five", "mm", 1).code == "too-fine"


@pytest.mark.parametrize(
    ("said", "serial"),
    [
        ("alfa bravo one two", "AB12"),
        ("Alpha, Bravo, 12.", "AB12"),
        ("november whiskey x-ray seven", "NWX7"),
        ("X-ray Foxtrot fox trot", "XFF"),
        ("juliett dash niner", "J-9"),
        ("papa hotel seven dash zero zero four", "PH7-004"),
    ],
)
def test_a_serial_is_spelled_letter_by_letter(said, serial):
    assert spoken_serial(said) == serial


@pytest.mark.parametrize("said", ["", "A B C", "alfa apple", "twelve", "alfa " * 41])
def test_anything_else_is_no_serial(said):
    assert isinstance(spoken_serial(said), NotAValue)


@pytest.mark.parametrize(
    ("value", "spoken"),
    [
        ("15", "one five"),
        ("50", "five zero"),
        ("-0.20", "minus zero point two zero"),
        ("A-9", "alfa dash nine"),
    ],
)
def test_a_value_is_read_back_sign_by_sign(value, spoken):
    assert read_back(value) == spoken


@pytest.mark.parametrize("value", ["0", "7", "15", "50", "120", "0.05", "12.34", "-4.5", "98765"])
def test_what_is_read_back_is_read_as_the_same_value(value):
    assert spoken_number(read_back(value), None, 2) == value


@pytest.mark.parametrize(
    ("value", "other"), [("14", "40"), ("40", "14"), ("115", "150"), ("16.5", "60.5"), ("-30", "-13")]
)
def test_what_sounds_nearly_the_same_is_known(value, other):
    assert confusable_with(value) == other


@pytest.mark.parametrize("value", ["4", "10", "20", "12", "0.14", "100", "AB14C"])
def test_what_nothing_sounds_like_has_no_other(value):
    assert confusable_with(value) is None
