"""Packages that earlier versions sealed still hold whole, record and report included.

A file's name says the formats that it was written in. One is added with each format and none
is ever made again; when a change here fails, the format needs a new number.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from evidence_app.package.verify.check import verify
from evidence_app.package.verify.result import HOLDS

RELEASED = sorted(Path(__file__).with_name("released").glob("*.zip"))


@pytest.mark.parametrize("package", RELEASED, ids=lambda path: path.stem)
def test_package_of_an_earlier_version_holds(package):
    result = verify(package)
    assert result.failed == ()
    assert {result.check(name).outcome for name in ("record", "report")} == {HOLDS}
    assert result.exit_status == 0
