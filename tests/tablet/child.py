"""One run of the app in a process that can be killed: goes to a screen and stays there.

    python -m tests.tablet.child SCREEN
"""

from __future__ import annotations

import sys

from evidence_app.locations import sample
from evidence_app.practice.session import load_session
from tests.tablet.driver import Driver

SESSION = "power-loss"


def main(target: str) -> None:
    session = load_session(sample(f"{SESSION}.session.toml"))
    driver = Driver(size=(1024, 600))
    jobs = [a for a in driver.actions() if a.startswith("job ")]
    if jobs:
        driver.touch(jobs[0])
    else:
        driver.begin(SESSION)
    driver.until(lambda: driver.job is not None, "the job")
    driver.settle()
    before = f"{driver.screen} {driver.job.state.step} {driver.job.state.sequence}"
    if target == "stop":
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
    print(f"READY|{before}|{driver.screen} {state.step} {state.sequence}", flush=True)
    while True:
        driver.pass_time(0.2)


def _reached(driver: Driver, target: str) -> bool:
    if target == "hold":
        return driver.job.state.hold is not None
    if target == "note" and driver.screen == "note":
        driver.touch("start-note")
        driver.until(lambda: driver.place.sensing.recorder.seconds > 1.5, "sound")
        return True
    return driver.screen == target


if __name__ == "__main__":
    main(sys.argv[1])
