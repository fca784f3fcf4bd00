"""Each sample session from the start screen to the sealed package, by touches alone."""

from __future__ import annotations

import pytest

from evidence_app.devices.camera import Shot
from evidence_app.job.guide import Job
from evidence_app.locations import sample
from evidence_app.package.verify import verify
from evidence_app.photo.measure import measure
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.microphone import speech
from evidence_app.practice.session import load_session
from evidence_app.practice.technician import PracticeTechnician

_SMALL = (1024, 600)


@pytest.mark.parametrize("name", ["completed", "stopped-at-residue", "retaken-and-gauged"])
def test_a_session_played_by_touch_says_what_the_command_line_says(tablet, tmp_path, name):
    session = load_session(sample(f"{name}.session.toml"))
    driver = tablet(size=_SMALL, clock=PracticeClock(session.begins))
    driver.begin(name)
    driver.play(session)
    package = driver.seal()
    assert _essence(driver.job.record.events) == _by_command_line(
        session, tmp_path / "other", driver.job.record)
    result = verify(package, accept_practice=True)
    assert not result.failed, result.failed


def test_a_clock_set_back_during_a_session_is_told_and_the_job_ends(tablet):
    session = load_session(sample("power-loss.session.toml"))
    driver = tablet(size=_SMALL, clock=PracticeClock(session.begins))
    driver.begin("power-loss")
    told = []
    driver.play(session, lambda d: told.append("clock" in d.place.notices) and False)
    assert any(told)
    assert driver.job.state.outcome == "completed"
    assert driver.seal().exists()


def _by_command_line(session, folder, record):
    """The demo's own technician, before whose eyes are the photos that the app took."""
    taken = iter([e for e in record.events if e.kind == "photo-taken"])

    def eyes(scene, _wall):
        event = next(taken)
        data = record.path_of(event.body["photo"]["sha256"]).read_bytes()
        return Shot(data, {**event.body["source"], "scene": scene})

    clock = PracticeClock(session.begins)
    with Job.open(folder, sample(session.step_list).read_bytes(), session.variant, session.serial,
                  session.claim, session.technician, True, clock, measure) as job:
        PracticeTechnician(session, job, clock, eyes, speech, lambda _: None).work()
        return _essence(job.record.events)


def _essence(events):
    """Everything of the events but times, identities and bytes that differ from run to run."""
    return [(e.kind, e.step, _content(e)) for e in events]


def _content(event):
    body = event.body
    kept = {
        "photo-taken": ("wanted", "purpose", "width", "height"),
        "photo-judged": ("passes",),
        "photo-kept": ("reason",),
        "hold-ended": ("met",),
        "note-recorded": ("note", "cut_short"),
        "job-opened": ("step_list", "variant", "device", "claim", "technician", "practice"),
    }.get(event.kind)
    if kept is None:
        return {key: value for key, value in body.items() if key != "held_s"}
    found = {key: body[key] for key in kept}
    if event.kind == "photo-taken":
        found["scene"] = body["source"]["scene"].partition("take=")[0]
        found["retake"] = body["retake_of"] is not None
    return found
