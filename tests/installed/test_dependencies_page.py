"""assets/dependencies.md names what pyproject.toml asks for, with a size and a licence each."""

import re
import tomllib
from pathlib import Path

from evidence_app.locations import asset

PROJECT = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text("utf-8"))["project"]
EXTRAS = ("desk", "tablet", "voice", "referee", "cluster")


def asked_for() -> dict[str, str]:
    """Library -> the extra that brings it, empty for what every computer needs."""
    groups = {"": PROJECT["dependencies"]} | {e: PROJECT["optional-dependencies"][e] for e in EXTRAS}
    return {re.match(r"[\w.-]+", each)[0].lower(): group for group in groups for each in groups[group]}


def rows() -> list[list[str]]:
    page = asset("dependencies.md").read_text("utf-8")
    table = [line.strip("|").split("|") for line in page.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in row] for row in table[2:]]


def test_the_page_names_each_library_under_its_extra():
    assert {row[0].lower(): row[4].strip("[]") for row in rows()} == asked_for()


def test_each_library_has_a_size_a_licence_a_reason_and_a_word_on_wheels():
    for row in rows():
        assert re.fullmatch(r"\d+\.\d", row[2]) and row[3] and row[5]
        assert set(row[6:]) <= {"yes", "no"} and len(row) == 8
