"""The microphone through PortAudio: real sound through a real sound server."""

from __future__ import annotations

import threading

import numpy as np
import pytest
import soundfile

from evidence_app.devices.microphone import RATE
from evidence_app.devices.named import open_microphone
from evidence_app.devices.portaudio import PortAudioMicrophone, microphones, open_error
from evidence_app.devices.watch import DeviceLost, DeviceReturned
from evidence_app.practice.microphone import speech
from evidence_app.sentence import sentence
from evidence_app.voice.interrupting.loudspeaker import Loudspeaker
from evidence_app.voice.note.recorder import NoteRecorder
from tests.devices.conftest import until

_TRIES = 8
SAID = "Both tabs."


def play(sound_server, path, recorder: NoteRecorder) -> None:
    """Speak into the microphone, and wait until what is still on its way has come."""
    sound_server.play(path)
    spoken = recorder.seconds
    until(lambda: recorder.seconds > spoken + 0.5)


def correlation(recorded: np.ndarray, said: np.ndarray) -> float:
    """The normalised correlation at the shift where it is largest."""
    recorded, said = recorded.astype(float), said.astype(float)
    size = 1 << (len(recorded) + len(said)).bit_length()
    product = np.fft.irfft(np.fft.rfft(recorded, size) * np.conj(np.fft.rfft(said, size)), size)
    shift = int(np.argmax(product[: len(recorded) - len(said)]))
    piece = recorded[shift : shift + len(said)]
    return float(piece @ said / np.sqrt((piece @ piece) * (said @ said)))


@pytest.mark.parametrize(
    "settings",
    [{}, {"rates": (3_000_000, 44_100), "channels": (2,)}],
    ids=["16 kHz", "a rate that is refused, then 44.1 kHz stereo"],
)
def test_note_holds_what_was_spoken_into_the_microphone(sound_server, tmp_path, settings):
    said = speech(SAID)
    soundfile.write(tmp_path / "said.flac", said, RATE)
    microphone = PortAudioMicrophone()
    for name, value in settings.items():
        setattr(microphone, name, value)
    recorder = NoteRecorder(tmp_path, "n1", None, None, {}, dropouts=microphone.dropouts)
    microphone.start(recorder.write)
    until(lambda: recorder.seconds > 0.1)
    play(sound_server, tmp_path / "said.flac", recorder)
    microphone.stop()
    recorded, _ = soundfile.read(recorder.finish().flac, dtype="int16")
    assert correlation(recorded, said) > 0.98


def test_what_a_loudspeaker_plays_is_known_beside_what_is_heard(sound_server, tmp_path):
    loudspeaker = Loudspeaker()
    microphone = open_microphone("microphone", loudspeaker)
    heard, played = [], []

    def hear(block) -> None:
        heard.append(block)
        played.append(loudspeaker.played)

    microphone.start(hear)
    until(lambda: sum(map(len, heard)) > 4 * RATE)  # by then both streams are in step
    said = speech(SAID)

    def said_once() -> float:
        begins = len(played)
        loudspeaker.play(said)
        until(lambda: not loudspeaker.busy)
        waited = len(played)
        until(lambda: len(played) > waited + 50)
        blocks = slice(begins, len(played))
        return min(correlation(np.concatenate(each[blocks]), said) for each in (played, heard))

    # On a busy machine a stream may stop for a moment; what is said then is out of step.
    assert any(said_once() > 0.98 for _ in range(_TRIES))
    microphone.stop()
    assert not loudspeaker.open
    assert [len(block) for block in heard] == [len(block) for block in played]


def test_lost_microphone_is_said_and_the_note_goes_on_when_it_returns(sound_server, tmp_path):
    said = speech("It is back.")
    soundfile.write(tmp_path / "said.flac", said, RATE)
    news = []
    microphone = PortAudioMicrophone()
    microphone.listen(news.append)
    recorder = NoteRecorder(tmp_path, "n1", None, None, {}, dropouts=microphone.dropouts)
    microphone.start(recorder.write)
    until(lambda: recorder.seconds > 0.1)
    sound_server.kill()
    until(lambda: news)
    assert isinstance(news[0], DeviceLost)
    assert not microphone.status().present
    sound_server.start()
    until(lambda: len(news) == 2)
    assert isinstance(news[1], DeviceReturned)
    play(sound_server, tmp_path / "said.flac", recorder)
    microphone.stop()
    note = recorder.finish()
    assert note.dropouts >= 1
    assert correlation(soundfile.read(note.flac, dtype="int16")[0], said) > 0.98


def test_microphones_are_listed_by_name(sound_server):
    assert "default" in microphones()


def test_missing_microphone_is_said(sound_server):
    microphone = open_microphone("microphone:no such one")
    microphone.start(lambda block: None)
    until(lambda: "no such microphone" in str(microphone.status().message))
    microphone.stop()


def test_busy_microphone_is_said_in_plain_words():
    sounddevice = pytest.importorskip("sounddevice", exc_type=OSError)
    error = sounddevice.PortAudioError("Error opening InputStream: Device unavailable", -9985)
    assert "another program may hold it" in open_error(error, sentence("microphone")).sentence()


def test_sound_that_nobody_takes_is_counted_as_dropouts(sound_server, monkeypatch):
    monkeypatch.setattr("evidence_app.devices.portaudio._MOST_WAITING", 5)
    held = threading.Event()
    microphone = PortAudioMicrophone()
    microphone.start(lambda block: held.wait(10))
    until(lambda: microphone.dropouts() > 0)
    held.set()
    microphone.stop()
