"""What a supervisor asks for, on the tablet: at the choice of the list, at the ticket, and in the job."""

from __future__ import annotations

from evidence_app.job import commands as c
from evidence_app.tablet.bringing import bring
from tests.asking import CLAIM, REASON, SUPERVISOR_KEY, ask, listing
from tests.making import SERIAL, TECHNICIAN, make_key, make_package


def test_a_request_is_opened_as_a_job_and_its_words_are_the_first_step(tablet, home, tmp_path):
    first = make_package(tmp_path / "first", outcome="stopped", claim=CLAIM, key=make_key(2)).path
    bring(ask(first, listing(tmp_path, SUPERVISOR_KEY)))
    driver = tablet(size=(1280, 800), practice=False)
    driver.touch("new")
    driver.touch("choose-list")
    assert f"More is asked for: claim {CLAIM}" in driver.texts()
    driver.touch(next(action for action in driver.actions() if action.startswith("list more-")))
    for name, value in (("serial", SERIAL), ("claim", CLAIM), ("technician", TECHNICIAN)):
        driver.touch(f"enter-{name}")
        driver.type(value)
        driver.touch("record")
    assert "R. Tavares-Holm asks for more" in driver.texts()
    driver.touch("open")
    driver.until(lambda: driver.job is not None, "the job")
    driver.until(lambda: driver.job.state.ticket is not None, "the ticket")
    driver.settle()
    while driver.job.owed:
        driver.job.do(c.AcknowledgeCaution(driver.job.owed[0].id))
    driver.place.changed()
    driver.settle()
    driver.touch("next")
    assert REASON in driver.texts()
    driver.look("asked")
