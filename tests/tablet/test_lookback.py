"""The lines of Entries name things as the step list does, not by their ids."""

from __future__ import annotations

from evidence_app.job import commands as c
from evidence_app.job.running.guide import Job
from evidence_app.locations import sample
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import load_session
from evidence_app.tablet.presenting.working.lookback import lines


def test_cautions_and_tools_are_named_in_words(tmp_path):
    session = load_session(sample("completed.session.toml"))
    with Job.open(
        tmp_path / "job",
        sample(session.step_list).read_bytes(),
        session.variant,
        session.serial,
        session.claim,
        session.technician,
        True,
        PracticeClock(session.begins),
    ) as job:
        caution = job.step_list.cautions[0]
        while (owed := next((o for o in job.owed if o.kind == "caution"), None)) is not None:
            job.do(c.AcknowledgeCaution(owed.id))
        tool = job.step_list.tools[0]
        job.do(c.TickItem("tools", tool.id))
        told = [line.words for line in lines(job.step_list, job.record.events)]
    signal = caution.signal.value
    assert f"Caution acknowledged: {signal}: {caution.hazard.rstrip('.')}" in told
    assert told[-1] == f"Tool ticked: {tool.name}"
