"""One run of the app in a process that can be killed: goes to a screen and stays there.

python -m tests.tablet.child SCREEN SERIAL
"""

from __future__ import annotations

import sys

from evidence_app.locations import sample
from evidence_app.practice.session import load_session
from tests.tablet.driver import PIN, Driver

SESSION = "power-loss"


def main(target: str, serial: str) -> None:
    session = load_session(sample(f"{SESSION}.session.toml"))
    driver = Driver(size=(1024, 600))
    if target == "newjob":
        driver.touch("new")
        driver.touch("enter-serial")
        driver.type(serial)
        driver.touch("record")
        _stay(driver, "- newjob - 0")
    jobs = [a for a in driver.actions() if a.startswith("job ")]
    if jobs:
        driver.touch(jobs[0])
    else:
        driver.begin(SESSION)
    driver.until(lambda: driver.job is not None, "the job")
    driver.settle()
    before = f"{driver.screen} {driver.job.state.step} {driver.job.state.sequence}"
    if target in ("finish", "sealing"):
        _to_finish(driver, session)
        if target == "sealing":
            _begin_sealing(driver)
    elif target == "stop":
        if driver.screen == "hold":
            driver.touch("release")
        if driver.screen == "step":
            driver.touch("stop")
            driver.touch("stop-repair")
            driver.type("The bench is needed.")
            driver.touch("record")
    else:
        driver.play(session, lambda d: _reached(d, target))
    state = driver.job.state
    _stay(driver, f"{before}|{driver.screen} {state.step} {state.sequence}")


def _stay(driver: Driver, words: str) -> None:
    print(f"READY|{words}", flush=True)
    while True:
        driver.pass_time(0.2)


def _to_finish(driver: Driver, session) -> None:
    """Stops the job when it is not stopped yet and gives all that the stop asks for."""
    if driver.job.state.phase == "preparing":
        driver.play(session, lambda d: d.job.state.phase == "working" and d.screen == "step")
    if driver.job.state.phase == "working":
        driver.touch("stop")
        driver.touch("stop-repair")
        driver.type("The bench is needed.")
        driver.touch("record")
    driver.play(session, lambda d: d.screen == "finish")


def _begin_sealing(driver: Driver) -> None:
    """Up to the moment in which the package is being written."""
    driver.touch("close")
    driver.until(lambda: driver.job.state.phase == "closed", "the end of the job")
    driver.settle()
    driver.touch("seal")
    driver.type(PIN)
    driver.touch("record")
    driver.type(PIN)
    driver.root.act("record")


def _reached(driver: Driver, target: str) -> bool:
    if target == "hold":
        return driver.job.state.hold is not None
    if target == "note" and driver.screen == "note":
        driver.touch("start-note")
        driver.until(lambda: driver.place.sensing.recorder.seconds > 1.5, "sound")
        return True
    return driver.screen == target


if __name__ == "__main__":
    main(*sys.argv[1:])
