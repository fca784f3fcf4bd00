"""A finished note as FLAC, bit for bit what was recorded, and proved to be so."""

import os
from pathlib import Path

import numpy as np
import soundfile

from evidence_app.errors import RecordError, turned
from evidence_app.sentence import sentence
from evidence_app.system_calls import sync_file
from evidence_app.voice.note.wav import RATE, WavReader

_FRAMES = 65_536  # 128 KiB at a time, so that an hour needs no more memory than a minute


def encode_note(wav: Path, flac: Path) -> int:
    """Write the samples of ``wav`` to ``flac``, durable when it returns; frames written.

    ``flac`` may exist already, as room set aside: it is overwritten from its start and
    cut to length, so that its blocks are used before any others are asked for. A note
    without a single sample makes an empty file. Raises OSError, or RecordError when the
    FLAC does not read back as what was recorded.
    """
    with open(os.open(flac, os.O_RDWR | os.O_CREAT, 0o644), "r+b", buffering=0) as file:
        frames = _write(wav, _Target(file), flac)
        sync_file(file.fileno())
    if frames:
        _compare(wav, flac, frames)
    return frames


def count_frames(flac: Path) -> int:
    """Length of a FLAC file in samples. Raises RecordError when it is none."""
    what = sentence("the voice note cannot be read ({problem})")
    remedy = sentence("check the disk; keep the job's folder as it is")
    with turned(soundfile.SoundFileError, RecordError, what, flac.name, remedy):
        return soundfile.info(os.fsencode(flac)).frames


class _Target:
    """The file as libsndfile sees it; keeps the system's error and how far it was written.

    libsndfile answers a failed write with a message that has lost the cause.
    """

    def __init__(self, file) -> None:
        self._file = file
        self.end = 0
        self.error: OSError | None = None

    def write(self, data: bytes) -> int:
        view = memoryview(data).cast("B")
        written = 0
        try:
            while written < len(view):
                written += self._file.write(view[written:])
        except OSError as error:
            self.error = error
        self.end = max(self.end, self._file.tell())
        return written

    def read(self, size: int = -1) -> bytes:
        return self._file.read(size)

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        if whence == os.SEEK_END:  # the room set aside behind the end is not part of it
            return self._file.seek(self.end + offset)
        return self._file.seek(offset, whence)

    def tell(self) -> int:
        return self._file.tell()

    def truncate(self) -> None:
        self._file.truncate(self.end)


def _write(wav: Path, target: _Target, flac: Path) -> int:
    frames = 0
    try:
        with (
            WavReader(wav) as source,
            soundfile.SoundFile(target, "w", RATE, 1, "PCM_16", format="FLAC") as sink,
        ):
            while not target.error and (data := source.read(_FRAMES)):
                block = np.frombuffer(data, dtype="<i2")
                sink.write(block)
                frames += len(block)
    except (soundfile.SoundFileError, AssertionError) as error:
        # soundfile asserts that every frame was written; the cause is in target.error.
        if not target.error:
            raise RecordError(
                sentence("the voice note cannot be encoded ({error})", error=error),
                where=flac.name,
                remedy=sentence("keep the job's folder; the sound is in it"),
            ) from error
    if target.error:
        raise target.error
    target.truncate()
    return frames


def _compare(wav: Path, flac: Path, frames: int) -> None:
    """Decode and compare, since the WAV is removed on the strength of this file."""
    unreadable = sentence("the voice note cannot be read back ({error})")
    different = sentence("the voice note reads back differently from what was recorded")
    remedy = sentence("check the disk; the sound is still in the note's WAV")
    with (
        turned(soundfile.SoundFileError, RecordError, unreadable, flac.name, remedy),
        WavReader(wav) as recorded,
        soundfile.SoundFile(os.fsencode(flac)) as encoded,
    ):
        same = encoded.frames == frames
        while same and (data := recorded.read(_FRAMES)):
            decoded = encoded.read(_FRAMES, dtype="int16")
            same = np.array_equal(np.frombuffer(data, dtype="<i2"), decoded)
    if not same:
        raise RecordError(different, where=flac.name, remedy=remedy)
