"""What the tablet sees, hears and says: camera, microphone, loudspeaker, speech model."""

import importlib.util
import math
import shutil
import subprocess
import threading

from evidence_app.errors import DeviceError, VoiceError, turned
from evidence_app.machine.part import Looked, tried
from evidence_app.sentence import sentence, sentences_beside
from evidence_app.voice.interrupting.canceller import library

_WORDS = sentences_beside(__file__)

_PICTURE_S = 8.0
_LISTEN_S = 2.0
_PATIENCE_S = 5.0


@tried(sentence("Camera"))
def camera(spec: str) -> Looked:
    """One picture is taken and thrown away."""
    from evidence_app.devices.named import open_camera
    from evidence_app.photo.intake import read_header

    device = open_camera(spec)
    device.start()
    try:
        shot = device.take(timeout_s=_PICTURE_S)
    except DeviceError as error:
        status = device.status()
        raise error if status.present else DeviceError(status.message) from error
    finally:
        device.stop()
    facts = read_header(shot.data)
    return (
        "works",
        sentence(
            "{name} gives pictures of {width} by {height} pixels.",
            name=device.name,
            width=facts.width,
            height=facts.height,
        ),
    )


@tried(sentence("Microphone"))
def microphone(spec: str) -> Looked:
    """Two seconds are listened to; nothing is kept."""
    from evidence_app.devices.microphone import RATE
    from evidence_app.devices.named import open_microphone
    from evidence_app.voice.levels import LevelMeter

    device, meter = open_microphone(spec), LevelMeter()
    heard, enough = [0], threading.Event()

    def hear(block) -> None:
        meter.feed(block)
        heard[0] += len(block)
        if heard[0] >= _LISTEN_S * RATE:
            enough.set()

    device.start(hear)
    try:
        enough.wait(_PATIENCE_S)
        status = device.status()
    finally:
        device.stop()
    if not heard[0]:
        raise DeviceError(status.message)  # a whole sentence, with its device and remedy
    level = meter.level()
    if level.sentence:
        return "limited", status.message, level.sentence
    return (
        "works",
        sentence("{name} hears {level} dBFS.", name=device.name, level=f"{level.rms_dbfs:.0f}"),
    )


@tried(sentence("Loudspeaker"), "limited")
def loudspeaker() -> Looked:
    """Is there an output for sound? Whether it is heard, only a person can tell."""
    from evidence_app.devices.portaudio import load_portaudio

    library = load_portaudio()
    what = sentence("there is no output for sound")
    remedy = sentence("plug a loudspeaker or headphones in; every signal is on the screen as well")
    with turned((library.PortAudioError, ValueError), DeviceError, what, remedy=remedy):
        found = library.query_devices(kind="output")
    return "works", sentence("{name} is there.", name=found["name"])


@tried(sentence("Reading aloud"), "limited")
def reading_aloud(language: str) -> Looked:
    """A short text is spoken into nothing."""
    program = shutil.which("espeak-ng")
    if program is None:
        raise VoiceError.worded(_WORDS["no-espeak"])
    done = subprocess.run([program, "-v", language, "--stdout", "1 2 3"], capture_output=True, timeout=60)
    if done.returncode or len(done.stdout) < 1000:
        raise VoiceError.worded(_WORDS["no-voice"], language=language)
    told = sentence("espeak-ng has a voice for {language}.", language=language)
    return ("works", told) if library() else ("limited", told, NOT_INTERRUPTED)


@tried(sentence("Speech model"), "limited")
def speech_model() -> Looked:
    """The files are compared with their checksums and loaded."""
    if importlib.util.find_spec("onnxruntime") is None:
        raise VoiceError.worded(_WORDS["no-runtime"])
    from evidence_app.voice.understanding.speech_model import FILES, SpeechModel, installed_folder

    folder = installed_folder()
    SpeechModel()
    size = sum((folder / name).stat().st_size for name in FILES) if folder else math.nan
    return (
        "works",
        sentence(
            "English, {size} MB, each file as it was published. Spoken words stay on this tablet.",
            size=f"{size / 1e6:.0f}",
        ),
    )


NOT_INTERRUPTED = sentence(
    "While it speaks, a stop is heard between sentences only; within them with the system package libspeexdsp1"
)
