"""A clerk can give the step lists that were issued: a weaker one under the same name is found."""

from __future__ import annotations

import pytest

from tests.making import STEP_LIST, make_package


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    return make_package(tmp_path_factory.mktemp("package")).path


@pytest.mark.parametrize(
    ("issued", "status"),
    [
        (STEP_LIST, 0),
        (STEP_LIST.replace(b"at-least-s = 10.0", b"at-least-s = 60.0"), 1),
        (STEP_LIST.replace(b'version = "1.0"', b'version = "1.1"'), 1),
    ],
)
def test_job_by_another_step_list_than_the_one_issued_fails(terminal, tmp_path, package, issued, status):
    (tmp_path / "lists").mkdir()
    (tmp_path / "lists" / "list.toml").write_bytes(issued)
    done = terminal.type(f"verify {package} --step-lists lists")
    assert done.exit_code == status, done.output
    assert ("was not issued" in done.output) == (status == 1)


def test_a_folder_without_step_lists_is_told(terminal, tmp_path, package):
    (tmp_path / "empty").mkdir()
    assert "no step list" in terminal.refuses(f"verify {package} --step-lists empty")
