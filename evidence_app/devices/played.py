"""Microphones that play what lies ready: a sound file, or sound made by the program."""

import os
import time
from abc import ABC, abstractmethod
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile

from evidence_app.devices.file import readable_name
from evidence_app.devices.microphone import BLOCK, RATE, OnBlock, unheard
from evidence_app.devices.resample import ToMono16k
from evidence_app.devices.watch import Watch, Watched
from evidence_app.errors import DeviceError, turned
from evidence_app.sentence import sentence


class PlayedMicrophone(Watched, ABC):
    """Hands on its sound once, from the start.

    ``realtime``: no faster than it was spoken; otherwise as fast as it is taken. At its
    end the microphone is absent, but nobody is told of a loss. What cannot be begun is
    tried again until ``stop``; what breaks off in the middle is a loss and not begun anew.
    """

    rate = RATE

    def __init__(self, name: str, realtime: bool = True) -> None:
        super().__init__("microphone", name)
        self._realtime = realtime
        self._on_block: OnBlock = unheard

    def start(self, on_block: OnBlock) -> None:
        self._on_block = on_block
        self._watch.start()

    def dropouts(self) -> int:
        return 0

    @abstractmethod
    def blocks(self) -> Iterator[np.ndarray]:
        """The sound: int16, shape (n,), 16 kHz. Raises DeviceError."""

    def _work(self, watch: Watch) -> None:
        started, frames = time.monotonic(), 0
        try:
            for block in self.blocks():
                watch.arrived(sentence("{name} is played.", name=self.name))
                frames += len(block)
                if self._realtime:
                    watch.nap(started + frames / RATE - time.monotonic())
                if watch.ending:
                    return
                self._on_block(block)
        except DeviceError as error:
            if not frames:
                raise
            self._presence.gone(error.told)
        else:
            self._presence.ended(sentence("{name} was played to its end.", name=self.name))


class FileMicrophone(PlayedMicrophone):
    """Plays the file at ``path``: WAV, FLAC or what else libsndfile reads, any rate."""

    def __init__(self, path: str | Path, realtime: bool = True) -> None:
        self._path = Path(path)
        super().__init__(readable_name(self._path), realtime)

    def blocks(self) -> Iterator[np.ndarray]:
        what = sentence("the sound file cannot be read ({problem})")
        remedy = sentence("choose a WAV or FLAC file")
        broken = turned((soundfile.SoundFileError, OSError), DeviceError, what, self.name, remedy)
        with broken, soundfile.SoundFile(os.fsencode(self._path)) as file:
            to_mono = ToMono16k(file.samplerate, file.channels)
            frames = max(1, BLOCK * file.samplerate // RATE)
            last = False
            while not last:
                # As float32, which holds 16 bits exactly: libsndfile does not scale a
                # file of floats when it is asked for integers.
                block = file.read(frames, dtype="float32", always_2d=True)
                last = file.tell() >= file.frames or len(block) == 0
                sound = to_mono.feed(block * 32768, last=last)
                if len(sound):
                    yield sound
