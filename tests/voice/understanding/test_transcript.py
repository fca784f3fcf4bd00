"""Transcripts of notes, made from the file."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile

from evidence_app.devices.microphone import RATE
from evidence_app.errors import VoiceError
from evidence_app.voice.understanding.transcript import (
    UNCLEAR,
    says_only_its_end,
    transcribe,
    without_loops,
)


@pytest.fixture
def note(tmp_path):
    def write(*sounds: np.ndarray, rate: int = RATE):
        path = tmp_path / "note.flac"
        soundfile.write(path, np.concatenate(sounds), rate)
        return path

    return write


PAUSE = np.zeros(RATE, np.int16)


def test_a_note_becomes_text_with_the_engine_s_name_and_version(engine, say, note):
    found = transcribe(note(PAUSE, say("the window lies flat", "en-us"), PAUSE), engine)
    assert "window" in found.text.lower()
    assert (found.engine, found.version) == (engine.name, engine.version)


def test_a_note_is_cut_at_its_pauses(engine, say, note):
    sound, pieces = say("the window lies flat", "en-us"), []

    class Counted:
        name, version = engine.name, engine.version

        def write(self, samples):
            pieces.append(len(samples))
            return engine.write(samples)

    found = transcribe(note(PAUSE, sound, PAUSE, sound, PAUSE), Counted())
    assert len(pieces) == 2
    assert found.text.lower().count("window") == 2


def test_a_note_without_speech_has_an_empty_transcript(engine, note):
    assert transcribe(note(PAUSE), engine).text == ""


def test_the_end_of_the_sound_is_transcribed_too(engine, say, note):
    sound = say("the window lies flat", "en-us")
    assert "window" in transcribe(note(PAUSE, sound[: len(sound) - 4000]), engine).text.lower()


def test_making_a_transcript_can_be_broken_off(engine, note):
    assert transcribe(note(PAUSE), engine, lambda _seconds: False) is None


@pytest.mark.parametrize("said", ["end the recording", "um, end the recording", "end the voice note"])
def test_what_ends_a_note_says_nothing(engine, say, note, said):
    assert says_only_its_end(note(PAUSE, say(said), PAUSE), engine)


@pytest.mark.parametrize(
    ("said", "voice"),
    [("it fell down", "en-gb"), ("no light, end the recording", "en-gb"), ("das Glas ist gebrochen", "de")],
)
def test_a_reason_says_more_than_its_end(engine, say, note, said, voice):
    sound = note(PAUSE, say(said, voice), PAUSE, say("end the recording"), PAUSE)
    assert not says_only_its_end(sound, engine)


def test_silence_is_not_the_end_of_a_note(engine, note):
    assert not says_only_its_end(note(PAUSE), engine)


def test_a_piece_in_which_the_engine_repeats_itself_is_unclear(engine, say, note):
    class Stuck:
        name, version = "stuck", "1"

        def write(self, _samples):
            return "the same the same the same the same the same"

    found = transcribe(note(PAUSE, say("the window lies flat"), PAUSE), Stuck())
    assert found.text == UNCLEAR


@pytest.mark.parametrize("text", ["no no no", "it is flat it is flat", "", "tick tock " * 3])
def test_what_a_person_may_repeat_is_no_loop(text):
    assert without_loops(text) == text


@pytest.mark.parametrize("text", ["You! " * 20, "so we go on " * 4, "a b c d e f g h " * 4])
def test_a_phrase_again_and_again_is_a_loop(text):
    assert without_loops(text) is None


def test_a_file_that_is_no_sound_is_refused(engine, tmp_path):
    path = tmp_path / "note.flac"
    path.write_bytes(b"no sound")
    with pytest.raises(VoiceError, match="cannot be read"):
        transcribe(path, engine)


def test_sound_at_another_rate_is_refused(engine, note):
    with pytest.raises(VoiceError, match="16 kHz"):
        transcribe(note(PAUSE, rate=8000), engine)
