"""Every file that a command is given by name is opened in one way: bounded, and never waited for."""

from __future__ import annotations

import os

import pytest

from tests.making import make_package

OPTIONS = [
    "verify {package} --keys {path}",
    "verify {package} --time-authority {path}",
    "keys digest {path}",
    "steps check {path}",
]


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    return make_package(tmp_path_factory.mktemp("package")).path


@pytest.mark.parametrize("option", OPTIONS)
@pytest.mark.parametrize("path", ["pipe", "folder", "/dev/zero", "missing"])
def test_what_is_no_ordinary_file_is_refused_by_its_name(terminal, tmp_path, package, option, path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    assert path in terminal.refuses(option.format(package=package, path=path))


def test_an_empty_name_is_no_name(terminal, package):
    assert "no file was named" in terminal.refuses(f"verify {package} --keys ''")
    assert "no file was named" in terminal.refuses(f"verify {package} --time-authority ''")


def test_a_time_authority_that_is_none_is_told_though_nothing_needs_it(terminal, tmp_path, package):
    (tmp_path / "bad.pem").write_text("not a certificate")
    assert "bad.pem" in terminal.refuses(f"verify {package} --time-authority bad.pem")


def test_a_name_of_ten_thousand_dots_is_refused_and_not_read(terminal, tmp_path):
    """A TOML reader's time for it grows with the square of its parts."""
    (tmp_path / "list.toml").write_text("[" + ".".join("a" * 10_000) + "]\n")
    assert "more than 100 dots" in terminal.refuses("steps check list.toml")
