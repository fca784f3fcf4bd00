"""Summaries of jobs on the bench."""

from __future__ import annotations

from evidence_app.job import commands as c
from evidence_app.job.summary.summarise import summarise
from evidence_app.steplist.load import loads
from tests.job.bench import STEP_LIST, Bench

STEPS = loads(STEP_LIST, "step list")


def summary_of(bench: Bench):
    return summarise(bench.job.step_list, bench.job.record.events)


def step_of(summary, step: str):
    return next(shown for shown in summary.steps if shown.id == step)


def stop_at_the_slot(bench: Bench) -> None:
    """Stops the repair by its finding and shows everything that the stop asks for."""
    bench.work_to("clean")
    bench.settle()
    bench.do(c.GiveFinding("not-clear"))
    bench.photo("reason", "stop-reason")
    bench.say(2.0)
    bench.do(c.GiveName("supervisor", "R. Tavares-Holm"), c.Close())
