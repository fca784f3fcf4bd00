"""The engine itself: what it needs, what it refuses, and that it stays on the device."""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys

import numpy as np
import pytest

from evidence_app.errors import VoiceError
from evidence_app.voice.understanding import speech_model
from evidence_app.voice.understanding.grammar import CONFIRM, Allowed, AskedReading, phrases_for
from evidence_app.voice.understanding.numbers import spoken_number
from evidence_app.voice.understanding.recogniser import SpeechRecogniser
from evidence_app.voice.understanding.words import ENGLISH, PLAIN

WORKING = Allowed("step", frozenset(ENGLISH.phrases))
PHRASES_OF_WORK = phrases_for(WORKING)
GAP = AskedReading("gap", "Gap", "mm", 2)
PHRASES = {"begin the hold": "start-hold", "release the hold": "end-hold", "next step": "next"}


def test_free_speech_is_written_down(engine, say):
    assert "window lies flat" in engine.write(say("the window lies flat", "en-us")).lower()


def test_of_the_allowed_phrases_the_one_said_is_found(engine, say):
    assert engine.hear(say("release the hold"), PHRASES).lower().startswith("release the hold")


def test_a_phrase_that_is_not_allowed_is_not_found(engine, say):
    heard = engine.hear(say("release the hold"), {"next step": "next"})
    assert heard != "next step"


@pytest.mark.parametrize(
    ("said", "question"),
    [
        ("erm yes confirmed", PLAIN),
        ("please yes write it down now", PLAIN),
        ("yes, now confirmed", PLAIN),
        ("um yes the finding isn't clear", "not-clear"),
        ("yes, please stop the repair", "stop-repair"),
    ],
)
def test_a_yes_is_heard_with_what_people_put_around_it(engine, say, said, question):
    phrases = phrases_for(WORKING, question)
    assert phrases.get(engine.hear(say(said, "en-us"), phrases)) == CONFIRM


@pytest.mark.parametrize(
    ("said", "question"),
    [
        ("no, yes, not confirmed", PLAIN),
        ("never yes confirmed", PLAIN),
        ("yes unconfirmed please", PLAIN),
        ("stop the repair", "stop-repair"),
        ("the finding is not clear", "not-clear"),
    ],
)
def test_what_is_no_yes_is_not_heard_as_one(engine, say, said, question):
    phrases = phrases_for(WORKING, question)
    assert phrases.get(engine.hear(say(said, "en-us"), phrases)) != CONFIRM


def test_a_yes_that_is_taken_back_at_its_end_is_none(engine, say):
    phrases = phrases_for(WORKING, PLAIN)
    said = [say("yes confirmed no", voice) for voice in ("en-us+f3", "en-us+m4", "en-gb-scotland")]
    assert CONFIRM not in [phrases.get(engine.hear(sound, phrases)) for sound in said]


def test_halt_is_a_stop_by_voices_that_say_hold(engine, say):
    for voice in ("en-gb+m5", "en-gb+f4"):
        assert PHRASES_OF_WORK.get(engine.hear(say("halt", voice), PHRASES_OF_WORK)) == "stop-repair"


@pytest.mark.parametrize(
    ("said", "voice"), [("stop the repair now", "en-gb-scotland"), ("stop now", "en-us+m4")]
)
def test_what_sounds_as_a_no_behind_a_stop_takes_nothing_of_it_back(engine, say, said, voice):
    heard = PHRASES_OF_WORK.get(engine.hear(say(said, voice), PHRASES_OF_WORK))
    assert heard in ("stop-repair", "near-stop")


@pytest.mark.parametrize("said", ["do not stop the repair", "never stop", "we should stop for lunch"])
def test_a_denied_stop_may_not_be_one(engine, say, said):
    heard = PHRASES_OF_WORK.get(engine.hear(say(said), PHRASES_OF_WORK))
    assert heard not in ("stop-repair", "near-stop")


@pytest.mark.parametrize(
    ("said", "voice", "value"),
    [
        ("three hundredths", "en-us", "0.03"),
        ("three hundred", "en-us", "300"),
        ("zero point three eight", "en-us+m4", "0.38"),
        ("point three six millimetres", "en-gb+f4", "0.36"),
    ],
)
def test_a_value_is_heard(engine, say, said, voice, value):
    text = engine.hear(say(said, voice), PHRASES_OF_WORK, GAP)
    assert spoken_number(text, GAP.unit, GAP.decimals) == value


@pytest.mark.parametrize(
    "sound",
    [
        np.zeros(0, np.int16),
        np.zeros(10, np.int16),
        np.zeros(16_000, np.int16),
        np.full(16_000, 32_767, np.int16),
        np.random.default_rng(2).normal(0, 9000, 32_000).clip(-32768, 32767).astype(np.int16),
    ],
    ids=["nothing", "ten samples", "silence", "full scale", "noise"],
)
def test_sound_without_speech_is_no_phrase_and_no_error(engine, sound):
    assert engine.hear(sound, PHRASES).lower().rstrip(".") not in PHRASES


def test_text_and_tokens_are_the_same_thing(engine):
    model = engine._model
    for text in ("Take the photo.", "I cannot tell, from this?", "0.25 mm", "naïve 下"):
        assert model.text_of(model.tokens_of(text)) == text.replace(
            "下", model.text_of(model.tokens_of("下"))
        )


@pytest.fixture(scope="module")
def model_copy(tmp_path_factory, engine):
    folder = tmp_path_factory.mktemp("model") / "tiny"
    shutil.copytree(speech_model.installed_folder(), folder)
    return folder


@pytest.mark.parametrize("name", speech_model.FILES)
def test_a_damaged_file_of_the_model_is_refused(model_copy, name):
    path = model_copy / name
    sound = path.read_bytes()
    path.write_bytes(sound[:5000] + bytes([sound[5000] ^ 1]) + sound[5001:])
    try:
        with pytest.raises(VoiceError, match="damaged"):
            SpeechRecogniser(model_copy)
    finally:
        path.write_bytes(sound)


def test_a_missing_file_of_the_model_is_refused(tmp_path):
    with pytest.raises(VoiceError, match="missing"):
        SpeechRecogniser(tmp_path)


def test_without_the_package_it_is_said_what_to_install(monkeypatch):
    monkeypatch.setattr(speech_model.importlib.util, "find_spec", lambda _: None)
    with pytest.raises(VoiceError, match="not installed"):
        SpeechRecogniser()


def test_the_code_that_downloads_models_is_never_imported(engine):
    code = (
        "import sys\nfrom evidence_app.voice.understanding.recogniser import SpeechRecogniser\n"
        "SpeechRecogniser()\nsys.exit('moonshine_voice' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0


def test_no_connection_is_opened(engine, say, monkeypatch):
    def refuse(*_args, **_named):
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket, "socket", refuse)
    SpeechRecogniser().write(say("next step"))
