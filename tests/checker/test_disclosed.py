"""A disclosed copy is one for both checkers, written apart."""

from __future__ import annotations

import pytest

from evidence_app.package.verify.check import verify
from tests.hostile.bag import Bag
from tests.hostile.on_disclosed import disclosed
from tests.hostile.on_roles import with_roles


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


@pytest.fixture
def with_roles_copy(sound, tmp_path):
    package = tmp_path / "copy.zip"
    package.write_bytes(with_roles(Bag.read(sound[0])).zip())
    return package


def test_copy_with_roles_is_judged_alike(with_roles_copy, shared):
    app, page = verify(with_roles_copy, disclosed=True), shared.give(with_roles_copy)
    assert app.exit_status == 0 and page["failed"] == []
    assert list(app.withheld) == page["withheld"]
    first = str(app.overall).split(" All ")[0]
    assert "Names are replaced by roles in its journal (entries: 1)" in first and page[
        "overall"
    ].startswith(first)
    ours = app.check("journal-chain")
    theirs = next(check for check in page["checks"] if check["name"] == "journal-chain")
    assert list(map(str, ours.items)) == theirs["items"]
    assert theirs["sentence"].rstrip(".") == str(ours.sentence)


def test_page_says_of_a_copy_with_roles_what_was_not_compared(with_roles_copy, checker, trust_files):
    checker.give_keys(trust_files)
    page = checker.give(with_roles_copy)
    key = next(check for check in page["checks"] if check["name"] == "key")
    assert key["outcome"] == "holds"
    assert "cannot be checked: a role stands for the name" in key["items"][-1]
    assert checker.complaints == []


def test_copy_made_by_the_app_is_taken_by_the_page(sound, shared, tmp_path):
    from evidence_app.package.disclose import disclose

    disclose(sound[0], tmp_path / "copy.zip", [], False, with_roles=True)
    page = shared.give(tmp_path / "copy.zip")
    assert page["failed"] == [] and page["reworded"] == 1
