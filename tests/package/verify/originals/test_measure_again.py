"""What only the photos themselves contradict is found by judging and measuring them again."""

from __future__ import annotations

import pytest

from evidence_app.package.verify.check import verify
from tests.hostile.bag import Bag
from tests.hostile.make import build
from tests.hostile.on_measuring import by_an_older_method, measured_package
from tests.hostile.registry import AGAIN


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    return measured_package(tmp_path_factory.mktemp("measured"))


def test_a_job_that_was_measured_gives_the_same_when_measured_again(measured):
    result = verify(measured, measure_again=True)
    assert result.exit_status == 0
    assert "measured again" in str(result.check("originals").sentence)


@pytest.mark.parametrize("attack", AGAIN.values(), ids=lambda attack: attack.name)
def test_the_file_that_gives_something_else_is_named(measured, tmp_path, attack):
    package = build(attack, measured, tmp_path).path
    assert verify(package).exit_status == 0
    found = verify(package, measure_again=True)
    assert found.failed == ("originals",)
    assert all("data/photos/" in str(item) for item in found.check("originals").items)


@pytest.mark.parametrize("ended", ["", "; second version"])
def test_a_photo_measured_by_another_versions_method_is_told_and_does_not_fail(measured, tmp_path, ended):
    package = tmp_path / "older.zip"
    package.write_bytes(by_an_older_method(Bag.read(measured), ended).zip())
    found = verify(package, measure_again=True)
    assert found.exit_status == 0
    assert "another version's method" in str(found.check("originals").sentence)
