"""What a measurement says is the same on every screen: its own sentence, in the language in use."""

from __future__ import annotations

import pytest

from evidence_app import language
from evidence_app.job import commands as c
from evidence_app.photo.results import worded
from evidence_app.practice.clock import PracticeClock
from evidence_app.sentence import sentence
from evidence_app.tablet.presenting.working.lookback import lines
from evidence_app.tablet.presenting.working.photo import photo_shown
from evidence_app.tablet.presenting.working.step import step_shown
from tests.job.bench import MEASURED, Bench, Photos

_CLEAN = sentence(
    "No difference found in the {judged:.0f} mm² that could be compared. Inspect by eye as well.",
    judged=277,
)
_ADVICE = MEASURED | {"value": 0.0, "U": None, "conformity": "inconclusive"} | worded(_CLEAN)


@pytest.fixture
def job(tmp_path):
    bench = Bench(tmp_path / "job", PracticeClock("2026-03-02T08:00:00.000+01:00"), Photos())
    bench.open()
    bench.work_to("inspect")
    sha = bench.photo("seam")
    bench.do(c.KeepPhoto(sha, "the seam is in view"))
    bench.do(c.RecordMeasurement(sha, "seam", _ADVICE))
    yield bench.job
    bench.job.close()


@pytest.mark.parametrize(
    ("spoken", "said"),
    [("en", "No difference found in the 277 mm²"), ("de", "Auf den 277 mm², die sich vergleichen ließen")],
)
def test_it_says_one_thing_on_tile_photo_and_entries(job, spoken, said):
    with language.speaking(spoken):
        state = job.state
        photo = state.photo_of("inspect", "seam")
        tiles = step_shown(job.step_list, state, None, job.ready).tasks
        told = [
            next(t.state_words for t in tiles if t.id == "seam"),
            photo_shown("", photo).measurement[1],
            lines(job.step_list, job.record.events)[-1].words,
        ]
    assert [said in words for words in told] == [True] * 3, told


def test_what_has_no_uncertainty_is_not_called_inconclusive_nor_sent_to_a_gauge(job):
    state = job.state
    told = [
        *(t.state_words for t in step_shown(job.step_list, state, None, job.ready).tasks),
        *photo_shown("", state.photo_of("inspect", "seam")).measurement,
        lines(job.step_list, job.record.events)[-1].words,
    ]
    assert not [words for words in told if "inconclusive" in words.lower() or "gauge" in words], told
