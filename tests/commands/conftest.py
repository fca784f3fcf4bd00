"""A terminal in an empty folder of its own."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from evidence_app.cli import main
from tests.commands.bench import Terminal, step_list


@pytest.fixture
def terminal(tmp_path, monkeypatch):
    monkeypatch.setenv("EVIDENCE_APP_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("EVIDENCE_APP_PIN", "604192")
    monkeypatch.chdir(tmp_path)
    return Terminal(CliRunner(), main)


@pytest.fixture
def opened(terminal, tmp_path):
    """A job at its first step."""
    (tmp_path / "list.toml").write_text(step_list(), "utf-8")
    terminal.does("job open list.toml --serial H7-1 --claim K-1 --technician Lind --folder job")
    terminal.does("job acknowledge job sprung-stand")
    terminal.does("job tick job lamp")
    terminal.does("job next job")
    return terminal
