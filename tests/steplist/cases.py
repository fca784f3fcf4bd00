"""One bad step list: a change to the valid one, and how its error must read."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from evidence_app.errors import EvidenceError, StepListError
from tests.steplist.valid import changed, line_of, read


class Case(NamedTuple):
    """``old`` becomes ``new``; the error stands on the one line with ``on_line``."""

    old: str
    new: str
    on_line: str
    table: str
    key: str
    message: str


def assert_told(case: Case) -> None:
    text = changed(case.old, case.new)
    problem = only_problem(text)
    assert str(problem.where).split(", ")[:2] == ["lamp.toml", f"line {line_of(case.on_line, text)}"]
    assert case.table in str(problem.where)
    if case.key:
        assert str(problem.where).endswith(f", key {case.key}")
    else:
        assert ", key " not in str(problem.where)
    assert case.message in problem.sentence()
    assert problem.remedy


def only_problem(text: str) -> EvidenceError:
    problems = problems_of(text)
    assert len(problems) == 1, [problem.sentence() for problem in problems]
    return problems[0]


def problems_of(text: str) -> list[EvidenceError]:
    with pytest.raises(StepListError) as caught:
        read(text)
    return caught.value.problems
