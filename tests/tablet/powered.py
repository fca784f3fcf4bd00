"""Plays a session by touch, or as the command line does, until the script's power cut.

    python -m tests.tablet.powered tablet SESSION
    python -m tests.tablet.powered command-line SESSION FOLDER JOB

The process is killed there, and started again takes the job up. The command line sees the
photos of the tablet's ``JOB`` and keeps its own in ``FOLDER``.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

from evidence_app.job.running.opening import peek
from evidence_app.locations import jobs_folder, sample
from evidence_app.practice import play
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import Session, load_session
from evidence_app.practice.technician import clock_after, session_folder
from evidence_app.record.record import Record
from tests.tablet import rendered
from tests.tablet.content import recalled

_SMALL = (1024, 600)


def take_up(session: Session, name: str, tablet):
    """A driver at the job's next action; ``tablet(**given)`` starts it. The job is opened, or
    taken up as long after the cut as the script says."""
    jobs = list(jobs_folder().iterdir()) if jobs_folder().exists() else []
    if not jobs:
        driver = tablet(size=_SMALL, clock=PracticeClock(session.begins))
        driver.begin(name)
        return driver
    _, state = peek(jobs[0])
    events = events_of(jobs[0])
    out_s = session.visit_at(state.step, events).out_s
    driver = tablet(size=_SMALL, clock=clock_after(events, out_s))
    driver.touch(f"job {jobs[0].name}")
    driver.until(lambda: driver.job is not None, "the job")
    driver.settle()
    return driver


def events_of(job: Path):
    with Record.open(job, PracticeClock("2026-01-01T00:00:00.000+00:00"), read_only=True) as record:
        return record.events


def _cut(driver, session: Session) -> bool:
    visit = driver._visit(session) if driver.job.state.phase == "working" else None
    if visit is None or any(e.kind == "job-resumed" for e in driver._since()):
        return False
    if visit.power_cut == "in-note" and driver.screen == "note":
        driver.touch("start-note")
        driver.until(lambda: driver.place.sensing.recorder.seconds > 1.5, "sound")
        os.kill(os.getpid(), signal.SIGKILL)
    if visit.power_cut == "in-hold" and driver.job.state.hold is not None:
        driver.clock.advance(driver.job.step.hold.at_least_s / 2)
        os.kill(os.getpid(), signal.SIGKILL)
    return False


def main(who: str, name: str, *folders: str) -> None:
    script = sample(f"{name}.session.toml")
    session = load_session(script)
    if who == "tablet":
        from tests.tablet.driver import Driver

        take_up(session, name, Driver).play(session, lambda d: _cut(d, session))
        return
    rendered.use()
    own, seen = Path(folders[0]), Path(folders[1])
    job = session_folder(own, session)
    photos = len(peek(job)[1].photos) if job.exists() else 0
    with Record.open(seen, PracticeClock(session.begins), read_only=True) as record:
        play.photograph = recalled(record.events, record.path_of, photos)
        play.play(script, own, lambda said, **_: print(said))


if __name__ == "__main__":
    main(*sys.argv[1:])
