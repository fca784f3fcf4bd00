"""Sealed packages to take in, made once, and an empty register for each test."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from evidence_app.desk.intake import Desk, Intake
from evidence_app.desk.register import Register
from tests.making import make_key, make_package


@pytest.fixture(scope="session")
def completed(tmp_path_factory):
    """A package of a completed job, claim NQ-2026-0117."""
    return make_package(tmp_path_factory.mktemp("completed")).path


@pytest.fixture(scope="session")
def stopped(tmp_path_factory):
    """A package of a job stopped at a finding, claim NQ-2026-0200, with other photos."""
    folder = tmp_path_factory.mktemp("stopped")
    made = make_package(
        folder, outcome="stopped", claim="NQ-2026-0200", key=make_key(2), photo_size=(128, 96)
    )
    return made.path


@pytest.fixture(scope="session")
def taken_in(tmp_path_factory, completed, stopped) -> tuple[Path, Path]:
    """The folders of a register with the completed package, and of one with the stopped one too."""
    one, two = (tmp_path_factory.mktemp("desk") / "desk" for _ in range(2))
    Intake(Register(one / "register.db"), Desk("desk 2")).take(completed)
    shutil.copytree(one, two)
    Intake(Register(two / "register.db"), Desk("desk 2")).take(stopped)
    return one, two


@pytest.fixture
def both(register, taken_in) -> Register:
    """Package 1 completed, package 2 stopped."""
    shutil.copytree(taken_in[1], register.path.parent)
    return register


@pytest.fixture
def register(tmp_path) -> Register:
    return Register(tmp_path / "desk" / "register.db")


@pytest.fixture
def intake(register) -> Intake:
    return Intake(register, Desk("desk 2"))
