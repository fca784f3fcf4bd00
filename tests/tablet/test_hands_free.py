"""What is done by voice alone before the first step, at a photo that does not pass, and at the end."""

from __future__ import annotations

import pytest

from evidence_app.job import commands as c
from evidence_app.job.running.guide import Job
from evidence_app.locations import sample
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import load_session
from tests import steplists as parts
from tests.job.bench import SOURCE, Photos
from tests.tablet.talking import Talk, at_work

SESSION = "power-loss"
LID = parts.step_list(
    "lid-check",
    "Lid check",
    parts.device(),
    parts.SPRUNG_STAND,
    parts.LAMP,
    parts.step("look", "Look at the lid", "Look at it.", more='cautions = ["sprung-stand"]\n'),
    parts.stop_rule("stopped", "The lid is cracked", "Set it aside.", more="spoken-reason = false\n"),
)


@pytest.fixture
def heard(tablet, engine, monkeypatch, tmp_path):
    """A tablet that listens from its first screen on, and the one who talks to it."""
    monkeypatch.setattr("evidence_app.tablet.workplace.Engine", lambda: engine)

    def begin(**given) -> Talk:
        given = {"microphone": "bench:", "camera": "bench:shelf", "listening": True} | given
        return Talk(tablet(size=(1280, 800), **given), tmp_path)

    return begin


@pytest.fixture
def opened(heard):
    """A practice job that was opened and not prepared."""

    def begin(**given) -> Talk:
        talk = heard(**given)
        talk.driver.begin(SESSION)
        return talk

    return begin


@pytest.fixture
def at(heard):
    """A job taken up at a step; with a photo that does not pass, where one is asked for."""

    def take_up(step: str = "isolate-cell", **given) -> Talk:
        session = load_session(sample(f"{SESSION}.session.toml"))
        clock = PracticeClock(session.begins)
        folder = at_work(session, clock, step)
        with Job.resume(folder, clock) as job:
            for owed in [o for o in job.owed if o.kind == "photo"][:1]:
                job.do(c.TakePhoto(Photos().blurred(), owed.id, "checkpoint", SOURCE))
            job.do(c.Leave())
        talk = heard(clock=clock, **given)
        talk.driver.place.resume(folder, talk.driver.root.home)
        talk.driver.until(lambda: talk.driver.job is not None, "the job")
        talk.driver.settle()
        return talk

    return take_up


@pytest.fixture
def lid(home):
    """A step list on the tablet that has no work in it."""
    folder = home / "step-lists"
    folder.mkdir(parents=True)
    (folder / "lid-check.toml").write_text(LID)


@pytest.fixture
def aloud(tmp_path, monkeypatch):
    """A voice that takes a moment for each sentence, in the place of the system's; what it said."""
    folder, told = tmp_path / "bin", tmp_path / "told"
    folder.mkdir()
    program = folder / "espeak-ng"
    program.write_text(f'#!/bin/sh\nread -r line\necho "$line" >> {told}\n')
    program.chmod(0o755)
    told.touch()
    monkeypatch.setattr("evidence_app.voice.prompts.shutil.which", lambda _name: str(program))
    monkeypatch.setattr("evidence_app.voice.prompts.GAP_S", 0.0)
    return told


def kinds(talk: Talk) -> list[str]:
    return [e.kind for e in talk.driver.job.record.events]


def test_cautions_are_acknowledged_one_by_one_by_their_words(opened):
    talk = opened()
    talk.insist("danger, cell pierced")
    assert talk.driver.job.state.cautions == {"cell-pierced"}
    assert "Caution 2 of 3" in talk.driver.texts()
    said = talk.driver.job.record.events[-1].body["said"]
    assert said.lower().startswith("danger")


def test_the_words_to_say_stand_on_the_plate(opened):
    talk = opened()
    assert "“danger, cell pierced”" in talk.driver.texts()


@pytest.mark.parametrize(
    "said", ["yes", "yes, confirmed", "danger, no cell pierced", "the cell was pierced"]
)
def test_a_caution_is_not_acknowledged_by_anything_else(opened, said):
    talk = opened()
    before = kinds(talk)
    talk.say(said)
    assert kinds(talk) == before


def test_a_caution_is_read_to_its_end_before_its_words_count(opened, aloud):
    talk = opened(spoken="all")
    talk.driver.until(lambda: talk.hearing.allowed().own, "the caution to be read")
    told = aloud.read_text()
    assert "Danger. A cell that is pierced" in told
    assert told.rstrip().endswith("To acknowledge it, say: danger, cell pierced.")


def test_all_are_here_ticks_all_once_they_were_read(opened, aloud):
    talk = opened(spoken="all")
    driver = talk.driver
    while driver.job.owed[0].kind == "caution":
        driver.touch("acknowledge")
    driver.until(lambda: "all-here" in talk.hearing.allowed().actions, "the items to be read")
    assert all(word in aloud.read_text() for word in ("Lining pick", "Scale card", "Slot linings"))
    talk.insist("scale card, checked")
    assert kinds(talk)[-1] == "item-ticked" and len(driver.job.state.ticked) == 1
    talk.insist("all items are here")
    talk.insist("yes, all items are here")
    driver.until(lambda: not driver.job.owed, "all ticks")
    talk.insist("next step")
    assert driver.job.state.phase == "working"


def test_all_are_here_counts_for_nothing_when_they_were_not_read(opened):
    talk = opened()
    while talk.driver.job.owed[0].kind == "caution":
        talk.driver.touch("acknowledge")
    before = kinds(talk)
    talk.say("all items are here")
    assert kinds(talk) == before


# --- a photo that does not pass -----------------------------------------------------------


def give_reason(talk: Talk, *said: str) -> None:
    driver = talk.driver
    driver.until(lambda: driver.place.sensing.recorder is not None, "the note")
    for text in said:
        talk.say(text)
    if said:
        talk.insist("end the recording")
    else:
        driver.touch("end-note")
    driver.settle()


def test_a_photo_that_does_not_pass_is_kept_for_a_spoken_reason(at):
    talk = at("stand-check")
    talk.insist("keep it with a reason")
    assert "photo-kept" not in kinds(talk)
    talk.insist("yes, keep it with a reason")
    give_reason(talk, "the slot is too narrow for the light to reach into it")
    talk.driver.until(lambda: kinds(talk)[-1] == "photo-kept", "the photo")
    kept, note = talk.driver.job.record.events[-1].body, talk.driver.job.state.notes[-1]
    assert (kept["reason"], note.heard) == (f"The reason is spoken: {note.id}.", "recorded")
    assert note.photo == kept["photo"]


def test_a_photo_is_not_kept_for_a_reason_that_nobody_hears(at):
    talk = at("stand-check")
    talk.insist("keep it with a reason")
    talk.insist("yes, keep it with a reason")
    give_reason(talk)
    assert kinds(talk)[-1] == "note-lost"
    assert "Nothing was heard in the spoken reason" in talk.driver.texts()


def test_a_photo_is_not_kept_for_a_reason_that_says_only_its_end(at):
    talk = at("stand-check")
    talk.insist("keep it with a reason")
    talk.insist("yes, keep it with a reason")
    talk.driver.until(lambda: talk.driver.place.sensing.recorder is not None, "the note")
    talk.insist("end the recording")
    talk.driver.until(lambda: kinds(talk)[-1] == "note-lost", "the end of the note")
    assert "Only the words that end a recording were heard" in talk.driver.texts()


@pytest.mark.parametrize(
    "said", ["yes", "yes, confirmed", "no, do not keep it", "don't keep it with a reason"]
)
def test_nothing_but_the_yes_that_names_it_begins_the_reason(at, said):
    talk = at("stand-check")
    talk.insist("keep it with a reason")
    before = kinds(talk)
    talk.say(said)
    talk.driver.pass_time(0.3)
    assert (kinds(talk), talk.driver.place.sensing.recorder) == (before, None)


# --- leaving -----------------------------------------------------------------------------


def test_a_job_is_paused_and_resumed_by_voice(at):
    talk = at()
    talk.insist("pause the job")
    talk.driver.until(
        lambda: talk.driver.job is None and "item number one" in talk.driver.texts(), "the list"
    )
    talk.insist("item number one")
    talk.driver.until(lambda: talk.driver.job is not None, "the job")
    assert talk.driver.job.state.step == "isolate-cell"


def test_a_job_is_abandoned_for_a_spoken_reason(at):
    talk = at()
    talk.insist("abandon the job")
    talk.insist("yes, abandon the job")
    give_reason(talk, "the owner wants the unit back as it is")
    talk.driver.until(lambda: talk.driver.job.state.phase == "closed", "the end")
    assert (talk.driver.job.state.outcome, talk.driver.screen) == ("abandoned", "finish")


def test_an_abandoned_job_asks_for_its_name(at):
    talk = at()
    talk.insist("abandon the job")
    talk.say("yes, confirmed")
    talk.driver.pass_time(0.3)
    assert talk.driver.place.sensing.recorder is None
    assert talk.driver.job.state.phase == "working"


# --- from the first screen to the last ----------------------------------------------------


def test_a_job_is_opened_by_voice(heard, lid):
    talk = heard(practice=False, technician="M. Okafor-Lind")
    talk.insist("begin a new job")
    talk.driver.until(lambda: "fill-in" in talk.driver.actions(), "the form")
    talk.insist("fill in what is missing")
    talk.insist("item number one")
    assert talk.driver.place.new_job.step_list.title == "Lid check"
    for name, spelled, value in (
        ("serial", "hotel, seven, dash, one, nine", "H7-19"),
        ("claim", "november, dash, three, four", "N-34"),
    ):
        talk.insist(spelled)
        talk.insist("yes, confirmed")
        assert getattr(talk.driver.place.new_job, name) == value
    talk.insist("open the job")
    talk.driver.until(lambda: talk.driver.job is not None, "the job")
    opened = talk.driver.job.state.opened
    assert (opened.device.serial, opened.claim) == ("H7-19", "N-34")


@pytest.fixture
def at_the_end(heard, lid):
    """A job in which nothing is missing."""

    def begin() -> Talk:
        from evidence_app.locations import jobs_folder

        clock, folder = PracticeClock("2026-03-02T09:00:00+01:00"), jobs_folder() / "job"
        with Job.open(folder, LID.encode(), None, "H7-19", "N-34", "M. Okafor-Lind", True, clock) as job:
            job.do(c.AcknowledgeCaution("sprung-stand"))
            job.do(c.TickItem("tools", "lamp"))
            job.do(c.GoOn())
            job.do(c.Leave())
        talk = heard(clock=clock)
        talk.driver.place.resume(folder, talk.driver.root.home)
        talk.driver.until(lambda: talk.driver.job is not None, "the job")
        talk.driver.settle()
        talk.insist("next step")
        return talk

    return begin


def test_a_job_is_closed_and_sealed_by_voice_up_to_the_pin(at_the_end):
    talk = at_the_end()
    assert talk.driver.screen == "finish"
    talk.insist("close the job")
    assert talk.driver.job.state.phase == "working"
    talk.insist("yes, close the job")
    talk.driver.until(lambda: talk.driver.job.state.phase == "closed", "the end")
    talk.insist("seal the package")
    assert talk.driver.screen == "finish"
    talk.insist("yes, seal the package")
    assert talk.driver.screen == "entry"
    assert "Choose a PIN" in talk.driver.texts()


@pytest.mark.parametrize(
    "said", ["yes", "yes, confirmed", "no, do not close the job", "yes, stop the repair"]
)
def test_a_job_is_not_closed_by_anything_but_the_yes_that_names_it(at_the_end, said):
    talk = at_the_end()
    talk.insist("close the job")
    talk.say(said)
    talk.driver.settle()
    assert talk.driver.job.state.phase == "working"
