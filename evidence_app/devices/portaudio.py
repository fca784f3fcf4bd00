"""The microphone of this machine, through PortAudio.

PortAudio's own thread only puts sound into a bounded queue; a thread of this module
brings it to mono at 16 kHz and hands it on. A device that falls silent, that is, calls
back no more, is lost: it is closed, the list of devices is read anew, and it is opened
again. Each loss and each overflow is a dropout.
"""

import queue
import threading
from itertools import product
from typing import Any

import numpy as np

from evidence_app.devices.microphone import RATE, OnBlock, unheard
from evidence_app.devices.resample import ToMono16k
from evidence_app.devices.watch import Watch, Watched
from evidence_app.errors import DeviceError, turned
from evidence_app.sentence import Sentence, sentence
from evidence_app.voice.interrupting.loudspeaker import Loudspeaker

_SILENT_S = 1.5
_LATENCY_S = 0.12  # of the loudspeaker: a shorter one stutters on a busy machine
_MOST_WAITING = 1500  # blocks of 10 to 40 ms, so at least 15 s for who takes the sound
# PortAudio's error numbers (portaudio.h, enum PaErrorCode).
_INVALID_CHANNELS, _INVALID_RATE, _BAD_FORMAT, _UNAVAILABLE = -9998, -9997, -9994, -9985

# PortAudio lists the devices once, when it is initialised; doing that again ends every
# stream of the process, so it waits until no other is open.
_streams_lock = threading.Lock()
_streams_open = 0


class PortAudioMicrophone(Watched):
    """``device``: a part of its name or its number; None: the system's choice.

    ``rates`` are tried in order, each with one channel and then with two; the device's
    own rate comes last. ``loudspeaker`` plays meanwhile, where there is an output.
    """

    rate = RATE
    rates: tuple[int, ...] = (RATE,)
    channels: tuple[int, ...] = (1, 2)

    def __init__(self, device: str | int | None = None, loudspeaker: Loudspeaker | None = None) -> None:
        if isinstance(device, str) and device.isdecimal():
            device = int(device)
        self._device = device
        super().__init__("microphone", "microphone" if device is None else f"microphone {device}")
        named = sentence("microphone {name}", name=device)
        self._words = sentence("microphone") if device is None else named
        self._on_block: OnBlock = unheard
        self._overflows = 0  # counted by PortAudio's thread only
        self._losses = 0  # counted by this module's thread only
        self._fresh = True
        self._loudspeaker = loudspeaker

    def start(self, on_block: OnBlock) -> None:
        self._on_block = on_block
        self._overflows = self._losses = 0
        self._watch.start()

    def dropouts(self) -> int:
        return self._overflows + self._losses

    def _work(self, watch: Watch) -> None:
        sounddevice = load_portaudio()
        global _streams_open
        with _streams_lock:
            if not self._fresh and _streams_open == 0:
                sounddevice._terminate()
                sounddevice._initialize()
            self._fresh = False
            stream, to_mono, sound = self._open(sounddevice)
            output = self._open_loudspeaker(sounddevice)
            _streams_open += 1
        try:
            self._hand_on(watch, to_mono, sound)
        finally:
            with _streams_lock:
                if output is not None and self._loudspeaker is not None:
                    self._loudspeaker.open = False
                    output.close(ignore_errors=True)
                stream.abort(ignore_errors=True)
                stream.close(ignore_errors=True)
                _streams_open -= 1

    def _open(self, sounddevice: Any):
        try:
            rate, channels = self._format(sounddevice)
            sound: queue.Queue[np.ndarray] = queue.Queue(_MOST_WAITING)

            def keep(block: np.ndarray, _frames: int, _time: Any, status: Any) -> None:
                if status.input_overflow:
                    self._overflows += 1
                try:
                    sound.put_nowait(block.copy())
                except queue.Full:
                    self._overflows += 1

            stream = sounddevice.InputStream(
                samplerate=rate, channels=channels, device=self._device, dtype="int16", callback=keep
            )
            stream.start()
        except (sounddevice.PortAudioError, ValueError) as error:
            raise open_error(error, self._words) from error
        return stream, ToMono16k(rate, channels), sound

    def _open_loudspeaker(self, sounddevice: Any) -> Any:
        """In a stream of its own, so that what is played can cost the microphone no sound."""
        loudspeaker = self._loudspeaker
        if loudspeaker is None or loudspeaker.open:  # another microphone's stream plays it
            return None

        def fill(out: np.ndarray, samples: int, _time: Any, _status: Any) -> None:
            out[:, 0] = loudspeaker.pull(samples)

        try:
            stream = sounddevice.OutputStream(
                samplerate=RATE, channels=1, dtype="int16", latency=_LATENCY_S, callback=fill
            )
            stream.start()
        except (sounddevice.PortAudioError, ValueError):
            return None
        loudspeaker.open = True
        return stream

    def _format(self, sounddevice: Any) -> tuple[float, int]:
        """The first rate and number of channels that the device takes."""
        device = sounddevice.query_devices(self._device, "input")
        refusal: Exception | None = None
        for rate, channels in product((*self.rates, device["default_samplerate"]), self.channels):
            try:
                sounddevice.check_input_settings(
                    self._device, channels=channels, dtype="int16", samplerate=rate
                )
            except sounddevice.PortAudioError as error:
                if _code(error) not in (_INVALID_CHANNELS, _INVALID_RATE, _BAD_FORMAT):
                    raise
                refusal = error
            else:
                return rate, channels
        assert refusal is not None  # something was tried
        raise refusal

    def _hand_on(self, watch: Watch, to_mono: ToMono16k, sound: queue.Queue) -> None:
        heard = False
        while not watch.ending:
            try:
                block = sound.get(timeout=_SILENT_S)
            except queue.Empty:
                if watch.ending:
                    return
                self._losses += heard
                raise DeviceError(
                    sentence("the microphone gives no more sound"),
                    where=self._words,
                    remedy=sentence("check its plug or switch it on"),
                ) from None
            heard = True
            watch.arrived(sentence("{name} is heard.", name=self._words))
            converted = to_mono.feed(block)
            if len(converted):
                if self._loudspeaker is not None:
                    self._loudspeaker.beside(len(converted))
                self._on_block(converted)


def load_portaudio() -> Any:
    """The library, loaded when first needed. Raises DeviceError when it is not installed."""
    what = sentence("the PortAudio library is not installed")
    remedy = sentence("install the system package libportaudio2")
    with turned(OSError, DeviceError, what, sentence("microphone"), remedy):
        import sounddevice
    return sounddevice


def microphones() -> list[str]:
    """The names of the inputs there are, each usable as ``device``. Raises DeviceError."""
    sounddevice = load_portaudio()
    try:
        return [
            device["name"] for device in sounddevice.query_devices() if device["max_input_channels"] > 0
        ]
    except sounddevice.PortAudioError as error:
        raise open_error(error, sentence("microphone")) from error


def open_error(error: Exception, where: Sentence) -> DeviceError:
    """What PortAudio says, as a sentence for the person at the device."""
    remedy = sentence("connect it, or choose another one")
    if _code(error) == _UNAVAILABLE:
        what = sentence("the microphone is busy or gone; another program may hold it")
        remedy = sentence("close the other program, or plug it in again")
    elif isinstance(error, ValueError) or _code(error) is None:
        what = sentence("there is no such microphone")
    else:
        what = sentence("the microphone cannot be opened ({problem})", problem=error.args[0])
    return DeviceError(what, where=where, remedy=remedy)


def _code(error: Exception) -> int | None:
    """PortAudio's number of the error, when it came from PortAudio itself."""
    number = error.args[1] if len(error.args) > 1 else None
    return number if isinstance(number, int) else None
