"""A bench with a job on it, and a clock that tests move."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from tests.job.bench import STEP_LIST, Bench, Photos
from tests.job.conduct.forgery import Forgery, completed, stopped
from tests.restarting import RestartingClock


@pytest.fixture(scope="session")
def step_list_bytes() -> bytes:
    return STEP_LIST


@pytest.fixture
def photos() -> Photos:
    return Photos()


@pytest.fixture
def clock() -> RestartingClock:
    return RestartingClock("2026-03-02T08:00:00.000+01:00")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "job"


@pytest.fixture
def bench(folder: Path, clock: RestartingClock, photos: Photos):
    """A bench with an opened job that has not been prepared."""
    made = Bench(folder, clock, photos)
    made.open()
    yield made
    made.job.close()


@pytest.fixture(scope="session")
def journal_maker(tmp_path_factory):
    """Plays a story on a bench of its own; the step list and the events of its journal."""

    def make(story):
        folder = tmp_path_factory.mktemp(story.__name__) / "job"
        played = Bench(folder, RestartingClock("2026-03-02T08:00:00.000+01:00"), Photos())
        with played.open() as job:
            story(played)
            return job.step_list, job.record.events

    return make


@pytest.fixture(scope="session")
def journal_of(journal_maker):
    """The journal of a story, written once."""
    return cache(journal_maker)


@pytest.fixture
def forgery(journal_of):
    """Of a completed job."""
    return Forgery(journal_of(completed))


@pytest.fixture
def stop_forgery(journal_of):
    """Of a stopped job."""
    return Forgery(journal_of(stopped))
