"""A sample session by voice alone, from its first step to its end, then sealed."""

from __future__ import annotations

from evidence_app.locations import sample
from evidence_app.package.verify.check import verify
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import load_session
from tests.tablet.talking import Talk, at_work, need_engine

_SPOKEN = {"1.2": "one point two", "15": "fifteen", "10": "ten", "30": "thirty"}


def test_a_session_is_worked_by_voice_to_its_package(tablet, tmp_path):
    need_engine()
    session = load_session(sample("power-loss.session.toml"))
    clock = PracticeClock(session.begins)
    folder = at_work(session, clock)
    driver = tablet(
        size=(1024, 600),
        clock=clock,
        microphone="bench:",
        camera="bench:shelf",
        listening=True,
        transcripts=True,
    )
    driver.place.resume(folder, driver.root.home)
    driver.until(lambda: driver.job is not None, "the job")
    talk = Talk(driver, tmp_path)
    talk.insist("next step")
    while driver.screen != "finish":
        clock.advance(30)
        _at(driver, talk, session)
    driver.touch("close")
    package = driver.seal()
    body = [(e.kind, e.body) for e in driver.job.record.events]
    readings = {b["reading"]: (b["value"], b["entered_by"]) for k, b in body if k == "reading-entered"}
    assert readings == {
        "serial-number": (session.serial, "typed"),
        **{name: (value, "spoken") for name, value in session.readings.items() if name != "serial-number"},
    }
    kinds = [k for k, _ in body]
    assert kinds.count("finding-given") == 5
    assert kinds.count("photo-taken") == 10
    assert kinds.count("note-recorded") == 1
    made = next(b for k, b in body if k == "transcript-made")
    # A synthetic voice is written down badly; what counts here is that it is, and by whom.
    assert made["text"] and made["engine"]["name"] and made["engine"]["version"]
    assert driver.job.state.outcome == "completed"
    result = verify(package, accept_practice=True)
    assert not result.failed, result.failed


def _at(driver, talk: Talk, session) -> None:
    """One thing that the step owes, said."""
    job = driver.job
    owed = next(iter(job.owed), None)
    if owed is None:
        talk.insist("next step")
    elif owed.kind == "reading" and owed.id == "serial-number":
        driver.touch("main")
        driver.type(session.serial)
        driver.touch("record")
    elif owed.kind == "reading":
        talk.insist(_SPOKEN[session.readings[owed.id]])
        talk.insist("yes, confirmed")
    elif owed.kind == "count":
        talk.insist("two")  # as listed: tabs and linings come in pairs
        talk.insist("yes, confirmed")
    elif owed.kind == "photo":
        if driver.screen != "camera":
            talk.insist("take the photo")
        driver.until(lambda: driver.place.sensing.camera is not None, "the camera")
        visit = driver.root.visit
        talk.insist("take the photo")
        driver.until(lambda: driver.root.visit != visit, "the photo")
        driver.settle()
    elif owed.kind == "hold":
        talk.insist("begin the hold")
        clock_s = job.step.hold.at_least_s + 3
        driver.clock.advance(clock_s)
        talk.insist("release the hold")
    elif owed.kind == "finding" and job.state.step == "inspect-slots" and not job.state.notes:
        talk.insist("begin a voice note")
        driver.until(
            lambda: driver.place.sensing.recorder is not None
            and driver.place.sensing.recorder.seconds > 0.1,
            "the note",
        )
        talk.say("both slots are empty")
        talk.insist("finish the voice note")
    else:
        talk.insist("the finding is clear")
        talk.insist("yes, confirmed")
