"""No line of assets/trust.md without a test that exists."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from tests.hostile.make import ATTACKS
from tests.hostile.registry import AGAIN

PROJECT = Path(__file__).resolve().parents[1]
PAGE = (PROJECT / "assets/trust.md").read_text("utf-8")
ROWS = [line for line in PAGE.split("## Formats")[0].splitlines() if line.startswith("| ")][2:]


@pytest.mark.parametrize("row", ROWS)
def test_line_of_the_threat_table_names_a_test(row):
    path, name = re.search(r"`(tests/[\w/]+\.py)::(\w+)` \|$", row).groups()
    defined = ast.walk(ast.parse((PROJECT / path).read_text("utf-8")))
    assert name in {each.name for each in defined if isinstance(each, ast.FunctionDef)}
    if path.startswith("tests/hostile/"):
        assert name.replace("_", "-") in ATTACKS | AGAIN


def test_figures_count_every_attack():
    unreadable = sum(attack.check is None for attack in ATTACKS.values())
    assert f"all ({len(ATTACKS)}, of which {unreadable} are no package at all)" in PAGE
