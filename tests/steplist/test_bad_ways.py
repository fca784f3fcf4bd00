"""Steps that cannot be reached and rules that cannot be followed are told."""

from __future__ import annotations

import pytest

from tests.steplist.cases import Case, assert_told

CASES = {
    "step unreachable in one variant": Case(
        'clear = { go-on = true }\nnot-clear = { redo-from = "extend" }',
        'clear = { redo-from = "look" }\nnot-clear = { redo-from = "extend" }',
        'id = "press"',
        '[[steps]] "press"',
        "id",
        'the step "press" of the variant "long" is never reached',
    ),
    "last step that cannot be passed": Case(
        '[steps.checkpoint.finding]\nclear = { go-on = true }\nnot-clear = { redo-from = "look" }\n'
        "cannot-tell = { go-on = true }",
        '[steps.checkpoint.finding] # here\nclear = { redo-from = "look" }\nnot-clear = { redo-from = "look" }\n'
        'cannot-tell = { redo-from = "look" }',
        "# here",
        '[[steps]] "press"',
        "checkpoint.finding",
        "no job can be completed",
    ),
    "rule with two ways": Case(
        "cannot-tell = { go-on = true }",
        'cannot-tell = { go-on = true, stop = "seat-dirty" }',
        "cannot-tell = { go-on",
        '[[steps]] "press"',
        "checkpoint.finding.cannot-tell",
        "expected exactly one of go-on, redo-from and stop, found go-on and stop",
    ),
    "rule with no way": Case(
        "cannot-tell = { go-on = true }",
        "cannot-tell = {}",
        "cannot-tell = {}",
        '[[steps]] "press"',
        "checkpoint.finding.cannot-tell",
        "found none of them",
    ),
    "rule that does not go on": Case(
        "cannot-tell = { go-on = true }",
        "cannot-tell = { go-on = false }",
        "cannot-tell = { go-on = false }",
        '[[steps]] "press"',
        "checkpoint.finding.cannot-tell",
        "found none of them",
    ),
    "redo limit without redo": Case(
        "cannot-tell = { go-on = true }",
        'cannot-tell = { go-on = true, redo-limit = 1, then-stop = "seat-dirty" }',
        "redo-limit = 1",
        '[[steps]] "press"',
        "checkpoint.finding.cannot-tell.redo-limit",
        "redo-limit stands without redo-from",
    ),
    "redo limit without stop": Case(
        'redo-limit = 2, then-stop = "seat-dirty"',
        "redo-limit = 2",
        "redo-limit = 2",
        '[[steps]] "look"',
        "checkpoint.finding.cannot-tell.redo-limit",
        "redo-limit needs then-stop",
    ),
    "stop after redos without limit": Case(
        'redo-limit = 2, then-stop = "seat-dirty"',
        'then-stop = "seat-dirty"',
        "then-stop",
        '[[steps]] "look"',
        "checkpoint.finding.cannot-tell.then-stop",
        "then-stop stands without redo-limit",
    ),
    "redo from a later step": Case(
        'redo-from = "look", redo-limit',
        'redo-from = "press", redo-limit',
        'redo-from = "press"',
        '[[steps]] "look"',
        "checkpoint.finding.cannot-tell.redo-from",
        'redo-from names "press", which comes after "look"',
    ),
    "redo from a step of another variant": Case(
        'not-clear = { redo-from = "look" }',
        'not-clear = { redo-from = "extend" } # here',
        "# here",
        '[[steps]] "press"',
        "checkpoint.finding.not-clear.redo-from",
        'redo-from names "extend", which is not used in the variant "short"',
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_error_is_told_with_file_line_and_key(case):
    assert_told(case)
