"""A disclosed copy is one for both checkers, written apart."""

from __future__ import annotations

import pytest

from evidence_app.package.verify.check import verify
from tests.hostile.bag import Bag
from tests.hostile.on_disclosed import disclosed


@pytest.fixture
def copy(sound, tmp_path):
    package = tmp_path / "copy.zip"
    package.write_bytes(disclosed(Bag.read(sound[0])).zip())
    return package


def test_copy_is_judged_alike_and_taken_for_no_whole_package(copy, shared):
    app, page = verify(copy, disclosed=True), shared.give(copy)
    assert app.exit_status == 0 and page["failed"] == []
    assert list(app.withheld) == page["withheld"] and len(app.withheld) == 3
    assert page["exit_status"] == verify(copy).exit_status == 1
    first = str(app.overall).split(". ")[0]
    assert first.startswith("Disclosed copy") and page["overall"].startswith(first)
    assert page["verdict"] == "not checked"


def test_page_shows_a_copy_as_one(copy, shared):
    shared.give(copy)
    assert shared.page.inner_text("#overall-title") == "A disclosed copy"
    assert "withheld, SHA-256" in shared.page.inner_text("#result")
    assert shared.complaints == []
