"""What is said does what it says and nothing else; touch and keys reach the same."""

from __future__ import annotations

import json

import pytest

from evidence_app.locations import sample
from evidence_app.practice.clock import PracticeClock
from evidence_app.practice.session import load_session
from evidence_app.tablet.ear.engine import Engine
from evidence_app.voice.understanding.recogniser import SpeechRecogniser
from tests.tablet.talking import Mouth, Talk, at_work

F4, F5, F7, F8 = 285, 286, 288, 289


@pytest.fixture
def session():
    return load_session(sample("power-loss.session.toml"))


@pytest.fixture
def at(tablet, session, engine, tmp_path, monkeypatch):
    """Takes a job up at a step, with the voice on; the one who talks to it."""

    def take_up(step: str = "isolate-cell", **given) -> Talk:
        clock = PracticeClock(session.begins)
        folder = at_work(session, clock, step)
        given = {"listening": True, "microphone": "bench:", "camera": "bench:shelf"} | given
        monkeypatch.setattr("evidence_app.tablet.workplace.Engine", lambda: engine)
        driver = tablet(size=(1280, 800), clock=clock, **given)
        driver.place.resume(folder, driver.root.home)
        driver.until(lambda: driver.job is not None, "the job")
        driver.settle()
        driver.place.dismiss("resumed")
        return Talk(driver, tmp_path) if given["listening"] else driver

    return take_up


def kinds(talk: Talk) -> list[str]:
    return [e.kind for e in talk.driver.job.record.events]


# --- what is said ----------------------------------------------------------------------


@pytest.mark.parametrize("said", ["the weather was better yesterday", "wo liegt der Schlüssel"])
def test_other_talk_does_nothing(at, said):
    talk = at()
    before = kinds(talk)
    talk.say(said)
    assert kinds(talk) == before
    assert talk.hearing.card is None


def test_the_serial_number_is_spelled(at):
    talk = at("identify")
    talk.insist("hotel, seven, dash, one, nine, eight, dash, three, zero, two, five, five")
    assert "H7-198-30255" in talk.driver.texts()
    talk.insist("yes, confirmed")
    body = talk.driver.job.record.events[-1].body
    assert (body["value"], body["entered_by"]) == ("H7-198-30255", "spoken")


def test_how_long_is_left_is_told_when_a_hold_runs(at):
    talk = at()
    talk.insist_refused("how much time is left")
    assert "No hold is running" in talk.driver.texts()


def test_what_is_not_allowed_is_refused_with_the_reason(at):
    talk = at("stand-check")
    before = kinds(talk)
    talk.insist_refused("next step")
    assert kinds(talk) == before
    assert "Not yet" in talk.driver.texts()


def test_what_was_said_is_shown_and_taken_back_by_voice(at):
    talk = at()
    talk.insist("next step")
    assert talk.driver.job.state.step == "remove-stand"
    assert "It can be taken back" in talk.driver.texts()
    talk.insist("take back the last entry")
    assert talk.driver.job.state.step == "isolate-cell"
    assert kinds(talk)[-1] == "taken-back"


@pytest.mark.parametrize("by", ["touch", "key"])
def test_a_spoken_command_is_taken_back_by_touch_or_key(at, by):
    talk = at()
    talk.insist("next step")
    if by == "touch":
        talk.driver.touch("take-back")
    else:
        talk.driver.key(F4)
        talk.driver.until(lambda: kinds(talk)[-1] == "taken-back", "the entry")
    assert talk.driver.job.state.step == "isolate-cell"
    assert kinds(talk)[-1] == "taken-back"


def test_after_five_seconds_it_is_refused(at):
    talk = at()
    talk.insist("next step")
    talk.driver.clock.advance(6)
    talk.insist_refused("take back the last entry")
    assert talk.driver.job.state.step == "remove-stand"


def test_a_reading_is_recorded_only_after_the_yes(at):
    talk = at("stand-check")
    before = kinds(talk)
    talk.insist("thirty")
    assert kinds(talk) == before
    assert "30 degrees. Is that right?" in talk.driver.texts()
    talk.insist("yes, confirmed")
    assert kinds(talk)[-1] == "reading-entered"
    assert talk.driver.job.record.events[-1].body["entered_by"] == "spoken"


def test_a_no_records_nothing(at):
    talk = at("stand-check")
    before = kinds(talk)
    talk.insist("thirty")
    talk.insist_refused("no, that is wrong")
    assert kinds(talk) == before


@pytest.mark.parametrize(("by", "recorded"), [("confirm", True), ("reject", False)])
def test_the_question_is_answered_by_touch(at, by, recorded):
    talk = at("stand-check")
    talk.insist("thirty")
    talk.driver.touch(by)
    assert ("lean-angle" in {r.reading for r in talk.driver.job.state.readings}) is recorded


def test_the_question_is_answered_by_a_key(at):
    talk = at("stand-check")
    talk.insist("thirty")
    talk.driver.key(F7)
    talk.driver.until(lambda: talk.driver.job.state.readings[-1].value == "30", "the entry")


def test_what_touch_recorded_meanwhile_makes_the_question_void(at):
    talk = at("stand-check")
    talk.insist("thirty")
    talk.driver.touch("main")
    talk.driver.touch("key 3")
    talk.driver.touch("key 1")
    talk.driver.touch("record")
    assert "confirm" not in talk.driver.actions()
    talk.say("yes, confirmed")
    assert [r.value for r in talk.driver.job.state.readings if r.reading == "lean-angle"] == ["31"]


def test_stop_said_asks_and_a_yes_that_names_it_stops(at):
    talk = at()
    talk.insist("stop the repair")
    assert talk.driver.job.state.phase == "working"
    talk.insist("yes, stop the repair")
    assert talk.driver.job.state.phase == "stopped"
    assert talk.driver.screen == "stop"


def test_help_and_what_is_owed_are_told(at):
    talk = at("stand-check")
    talk.insist("name the phrases")
    assert "“what is still owed”" in talk.driver.texts()
    talk.insist("what is still owed")
    assert "Enter Lean angle" in talk.hearing.card.words


# --- on and off ------------------------------------------------------------------------


def test_listening_is_muted_and_begun_again_by_voice(at):
    talk = at()
    talk.insist("mute the microphone")
    step = talk.driver.job.state.step
    talk.say("next step")
    assert (talk.hearing.state(), talk.driver.job.state.step) == ("muted", step)
    talk.insist("open the microphone")
    assert talk.hearing.state() != "muted"


def test_a_muted_microphone_still_hears_a_stop(at):
    talk = at()
    talk.insist("mute the microphone")
    talk.insist("stop the repair")
    assert "confirm" in talk.driver.actions()


def test_a_key_ends_it(at):
    talk = at()
    talk.driver.key(F5)
    talk.driver.until(lambda: talk.hearing.state() == "off", "its end")


def test_a_microphone_that_is_lost_and_returns_is_told_and_recorded(at):
    talk = at()
    Mouth.here.unplugged = True
    talk.driver.until(lambda: talk.hearing.state() == "off", "the loss")
    told = "Not listening: no microphone"
    talk.driver.until(lambda: told in talk.driver.texts(), "the sign")
    Mouth.here.unplugged = False
    talk.driver.until(lambda: talk.hearing.state() == "listening", "the return")
    talk.driver.until(lambda: kinds(talk)[-1] == "device-returned", "the entry")
    assert kinds(talk)[-2] == "device-lost"
    talk.insist("next step")
    assert talk.driver.job.state.step == "remove-stand"


def test_without_the_model_commands_are_off_and_notes_are_recorded(at, monkeypatch, tmp_path):
    monkeypatch.setattr(Engine, "get", lambda _self: SpeechRecogniser(tmp_path))
    driver = at(listening=False, transcripts=True)
    driver.touch("listen")
    driver.until(lambda: "Not listening: no speech model" in driver.texts(), "the sign")
    assert "-m pip install --force-reinstall moonshine-voice==0.1.0" in driver.texts()
    assert "the speech model is missing" in driver.texts()
    driver.root.go("note")
    driver.settle()
    driver.touch("start-note")
    driver.until(lambda: driver.place.sensing.recorder.seconds > 0.3, "sound")
    driver.touch("end-note")
    assert driver.job.record.events[-1].kind == "note-recorded"


def test_a_microphone_that_cannot_be_opened_is_told(at):
    driver = at(listening=False, microphone="nothing:here")
    driver.touch("listen")
    driver.until(lambda: "Not listening: no microphone" in driver.texts(), "the sign")
    assert "does not name a microphone" in driver.texts()


def test_a_voice_that_is_not_installed_is_told_once_and_the_app_goes_on(at, monkeypatch):
    monkeypatch.setattr("shutil.which", lambda _name: None)
    talk = at(spoken="all")
    talk.driver.until(lambda: "aloud" in talk.driver.place.notices, "the notice")
    assert "espeak-ng is not installed" in talk.driver.texts()
    talk.driver.place.dismiss("aloud")
    monkeypatch.undo()
    talk.insist("next step")
    assert talk.driver.job.state.step == "remove-stand"
    assert "aloud" not in talk.driver.place.notices


# --- notes -----------------------------------------------------------------------------


def test_a_note_is_written_down_found_corrected_and_played(at):
    talk = at(transcripts=True)
    driver = talk.driver
    talk.insist("begin a voice note")
    driver.until(lambda: driver.place.sensing.recorder is not None, "the note")
    talk.say("next step")
    assert driver.job.state.step == "isolate-cell"
    talk.insist("finish the voice note")
    driver.until(lambda: kinds(talk)[-1] == "transcript-made", "the transcript")
    text = driver.job.record.events[-1].body["text"]
    driver.root.go("lookback")
    driver.settle()
    driver.touch("find")
    driver.type("Made TRANSCRIPT " + text.split()[0].strip(".,"))
    driver.touch("record")
    entries = [a for a in driver.actions() if a.startswith("entry ")]
    assert entries == [f"entry {driver.job.state.sequence}"]
    driver.touch(entries[0])
    assert "The sound counts, not this text." in driver.texts()
    driver.touch("play")
    assert "stop-playing" in driver.actions()
    assert talk.hearing.listener.sign == "speaking"
    driver.touch("stop-playing")
    driver.touch("correct-transcript")
    driver.key(8)
    driver.type(" The old linings are worn.")
    driver.touch("record")
    corrected = driver.job.record.events[-1]
    assert corrected.kind == "transcript-corrected" and "linings are worn" in corrected.body["text"]
    assert json.dumps(text) in json.dumps([e.body for e in driver.job.record.events])


def test_a_note_ends_by_itself_after_a_long_quiet(at, monkeypatch):
    monkeypatch.setattr("evidence_app.voice.note.end.NoteEnd.__init__.__defaults__", (2.0,))
    talk = at()
    talk.insist("begin a voice note")
    talk.driver.until(lambda: talk.driver.place.sensing.recorder is not None, "the note")
    talk.say("the stand is worn at the outer lip")
    talk.driver.until(lambda: kinds(talk)[-1] == "note-recorded", "its end")
    talk.driver.settle()
    assert "ended by itself" in talk.driver.texts()


@pytest.mark.parametrize(
    ("step", "screen", "phrases"),
    [
        ("isolate-cell", "step", {"next step", "previous step", "begin the recording", "stop the repair"}),
        ("stand-check", "finding", {"the finding is clear", "the finding is not clear"}),
        ("stand-check", "camera", {"take the photo"}),
        ("isolate-cell", "note", {"begin the recording"}),
        ("isolate-cell", "stop", {"stop the repair"}),
    ],
)
def test_a_german_screen_has_the_phrase_to_say_beside_each_plate(at, step, screen, phrases):
    talk = at(step, language="de")
    driver = talk.driver
    driver.root.go(screen, **({"asking": True} if screen == "stop" else {}))
    driver.settle()
    driver.until(lambda: screen != "camera" or "shutter" in driver.actions(), "the picture")
    assert {p for p in phrases if f"“{p}”" not in driver.texts()} == set()


@pytest.mark.parametrize("given", [{"language": "en"}, {"language": "de", "listening": False}])
def test_plates_have_no_phrase_where_it_is_the_screen_s_or_nobody_listens(at, given):
    talk = at(**given)
    assert "“next step”" not in getattr(talk, "driver", talk).texts()


# --- looks -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "percent", "language"),
    [((1280, 800), 100, "en"), ((1024, 600), 150, "de"), ((600, 1024), 200, "en")],
)
def test_nothing_of_the_voice_is_cut_off_or_overlaps(at, size, percent, language):
    from tests.tablet.layout import faults

    talk = at("stand-check", text_size=percent, language=language)
    talk.driver.resize(size)
    found = {}

    def check(name: str) -> None:
        talk.driver.settle()
        talk.driver.look(f"{name}-{size[0]}-{percent}-{language}")
        if wrong := faults(talk.driver.root):
            found[name] = wrong

    check("listening")
    for said in (
        "next step",
        "thirty",
        "yes, confirmed",
        "name the phrases",
        "stop the repair",
        "mute the microphone",
    ):
        talk.say(said)
        check(said)
    talk.driver.root.go("voice")
    check("settings")
    assert not found
