"""Every refusal of a measurement has its words, and every word of the table is said by one."""

from __future__ import annotations

import ast
from pathlib import Path
from string import Formatter

import evidence_app.photo as room
from evidence_app.photo import refusal
from evidence_app.sentence import sentences_beside

_WORDS = sentences_beside(refusal.__file__)


def _raised() -> dict[tuple[str, str], set[str]]:
    """What the room refuses by (what of, reason), with the names of the values given to it."""
    found = {}
    for path in Path(room.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "CannotMeasure":
                of, reason = (ast.literal_eval(each) for each in node.args)
                found[of, reason] = {each.arg for each in node.keywords} - {"where"}
    return found


def test_each_has_words_and_each_words_are_said():
    assert _raised().keys() == {(of, reason) for of, told in _WORDS.items() for reason in told}


def test_the_places_of_the_words_are_filled():
    for (of, reason), given in _raised().items():
        templates = [said.template for said in _WORDS[of][reason].values()]
        places = {name for text in templates for _, name, _, _ in Formatter().parse(text) if name}
        assert places == given or None in given, (of, reason)


def test_what_is_to_be_done_is_told_with_its_own_values_only():
    problem = refusal.CannotMeasure("any", "unit", named="gap", unit="mm", unit2="mm2")
    assert dict(problem.remedy.values) == {"unit": "mm"}
