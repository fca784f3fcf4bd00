"""What is said of the app and of what it uses."""

from __future__ import annotations

from importlib.metadata import version


def test_each_library_is_named_with_version_and_licence(terminal, monkeypatch):
    monkeypatch.setenv("COLUMNS", "120")
    said = terminal.does("about").splitlines()
    (line,) = [each for each in said if each.startswith("cryptography ")]
    assert version("cryptography") in line and "Apache-2.0" in line
    assert "MIT licence" in said[0]


def test_what_only_the_tests_use_is_not_named(terminal):
    assert "hypothesis" not in terminal.does("about")
