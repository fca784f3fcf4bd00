"""A clock moved by hand and a job's record driven by it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from evidence_app.record.event import Instant
from evidence_app.record.record import Record
from evidence_app.record.times import format_ms


class HandClock:
    """Wall and monotonic time that move only when told to."""

    def __init__(self) -> None:
        self.wall = datetime(2026, 3, 2, 8, 15, 30, tzinfo=UTC)
        self.mono_s = 1000.0
        self.boot = "boot-1"

    def now(self) -> Instant:
        return Instant(format_ms(self.wall), round(self.mono_s * 1e6), self.boot)

    def advance(self, seconds: float, wall_seconds: float | None = None) -> None:
        """Let time pass; the wall clock may be made to move by another amount."""
        self.mono_s += seconds
        self.wall += timedelta(seconds=seconds if wall_seconds is None else wall_seconds)


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "job"


@pytest.fixture
def record(folder: Path, clock: HandClock):
    with Record.create(folder, clock) as made:
        yield made
