"""Each defect that the rules name stands in the table of their words, with a value for every place,
and no words stand there that no rule names."""

from __future__ import annotations

import ast
from pathlib import Path
from string import Formatter

import pytest

from evidence_app.sentence import sentences_beside
from evidence_app.steplist import defect

_WORDS = sentences_beside(defect.__file__)


def _named() -> dict[str, list[set[str]]]:
    """The names of the values of each call of ``defect``, and of what only adds a place to it."""
    found: dict[str, list[set[str]]] = {}
    for module in sorted(Path(defect.__file__).parent.glob("*.py")):
        for node in ast.walk(ast.parse(module.read_text("utf-8"))):
            match node:
                case ast.Call(ast.Name("defect" | "_alone"), [_, ast.Constant(str(key))], keywords):
                    found.setdefault(key, []).append({str(each.arg) for each in keywords})
    return found


def test_every_defect_has_words_and_no_words_are_left_over() -> None:
    assert len(_WORDS) > 50
    assert set(_named()) == set(_WORDS)


@pytest.mark.parametrize("key", _WORDS)
def test_each_place_has_a_value(key: str) -> None:
    said = (_WORDS[key]["what"], _WORDS[key]["remedy"])
    places = {place for each in said for _, place, _, _ in Formatter().parse(each.template)} - {None}
    assert [places] * len(_named()[key]) == _named()[key]
