"""What was said into a note and written down later is found at the desk."""

from __future__ import annotations

from click.testing import CliRunner

from evidence_app.cli import main
from evidence_app.job import commands as c
from evidence_app.job.running.guide import Job
from tests.making import QuickClock, make_closed_job, seal

MADE = "The left tab is worn at the outer lid."
CORRECTED = "The left tab is worn at the outer lip."


def test_the_words_of_a_transcript_are_found_as_they_were_corrected(tmp_path, monkeypatch):
    monkeypatch.setenv("EVIDENCE_APP_HOME", str(tmp_path / "home"))
    folder = make_closed_job(tmp_path / "job", close=False)
    with Job.resume(folder, QuickClock()) as job:
        note = next(n.id for n in job.state.notes if n.heard == "recorded")
        job.do(c.AddTranscript(note, MADE, "engine-name", "1.2.3"))
        job.do(c.CorrectTranscript(note, CORRECTED))
        job.do(c.Close())
    package = seal(folder, tmp_path / "out").path

    def run(*words: str) -> str:
        done = CliRunner().invoke(main, ["desk", *words])
        assert done.exit_code == 0, done.output
        return done.output

    run("intake", "--without-measuring", str(package))
    assert "1 packages" in run("list", "--text", "outer lip")
    assert "0 packages" in run("list", "--text", "inner lip")
    with Job.resume(folder, QuickClock()) as job:
        made = next(e.body for e in job.record.events if e.kind == "transcript-made")
    assert (made["text"], made["engine"]) == (MADE, {"name": "engine-name", "version": "1.2.3"})
