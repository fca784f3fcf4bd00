"""Every refusal of the room has its words, and every word of the tables is said by one."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

import evidence_app.photo as room
from evidence_app.photo import intake, refusal, study
from evidence_app.sentence import Sentence, sentences_beside

_ROOM = sorted(Path(room.__file__).parent.rglob("*.py"))


def _calls(files: list[Path], name: str) -> Iterator[tuple[list[str], set[str | None]]]:
    """Literal words of each call, wherever they stand in its first two arguments, and the names
    of the values given to it."""
    for path in files:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == name:
                parts = [each for given in node.args[:2] for each in ast.walk(given)]
                words = [each.value for each in parts if isinstance(each, ast.Constant)]
                yield [word for word in words if isinstance(word, str)], {k.arg for k in node.keywords}


def _measuring() -> tuple[dict, dict]:
    words = sentences_beside(refusal.__file__)
    raised = {tuple(path): given - {"where"} for path, given in _calls(_ROOM, "CannotMeasure")}
    return raised, {(of, reason): [*words[of][reason].values()] for of in words for reason in words[of]}


def _taking() -> tuple[dict, dict]:
    words = sentences_beside(intake.__file__)
    raised = {tuple(path): given for path, given in _calls([Path(intake.__file__)], "_refused")}
    told = {(way, reason): [said] for way in words for reason, said in words[way].items()}
    return raised, {path: said for path, said in told.items() if path[1] != "remedy"}


def _studying() -> tuple[dict, dict]:
    words = sentences_beside(study.__file__)
    calls = _calls([Path(study.__file__)], "EvidenceError.worded")
    raised = {path[0]: given for path, given in calls}
    return raised, {reason: [*words[reason].values()] for reason in words}


_TABLES = pytest.mark.parametrize("table", [_measuring, _taking, _studying])


@_TABLES
def test_each_has_words_and_each_words_are_said(table):
    raised, told = table()
    assert raised.keys() == told.keys()


@_TABLES
def test_the_places_of_the_words_are_filled(table):
    raised, told = table()
    for reason, given in raised.items():
        assert _places(told[reason]) == given or None in given, reason


def _places(told: list[Sentence]) -> set[str]:
    return {name for said in told for _, name, _, _ in Formatter().parse(said.template) if name}


def test_what_is_to_be_done_is_told_with_its_own_values_only():
    problem = refusal.CannotMeasure("any", "unit", named="gap", unit="mm", unit2="mm2")
    assert dict(problem.remedy.values) == {"unit": "mm"}
