"""Each limit that assets/trust.md tells is the one in the code."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest

PAGE = (Path(__file__).resolve().parents[1] / "assets/trust.md").read_text("utf-8")
ROWS = re.findall(r"^\| ([^|]+) \| ([0-9,]+) [^|]*\| `([\w/]+)\.py: (\w+)` \|$", PAGE, re.M)


def test_the_table_is_there():
    assert len(ROWS) >= 15


@pytest.mark.parametrize(("what", "limit", "module", "name"), ROWS, ids=[row[3] for row in ROWS])
def test_limit_is_told_as_it_is(what, limit, module, name):
    found = getattr(importlib.import_module(f"evidence_app.{module.replace('/', '.')}"), name)
    assert found == int(limit.replace(",", ""))
