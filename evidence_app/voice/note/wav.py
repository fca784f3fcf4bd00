"""The WAV file a note is recorded into: 16 kHz, mono, 16 bits, readable after any cut.

The header (RIFF WAVE, as in the Multimedia Programming Interface and Data
Specifications 1.0 of 1991) is brought up to date at each sync for other programs'
sake; this module reads by the file's length and does not rely on the sizes in it.
"""

from __future__ import annotations

import os
import struct
from pathlib import Path

from evidence_app.system_calls import sync_file

RATE = 16_000
FRAME_BYTES = 2
_HEADER = struct.Struct("<4sI4s4sIHHIIHH4sI")
HEADER_BYTES = _HEADER.size  # 44
_LARGEST = 0xFFFF_FFFF


class WavWriter:
    """Creates ``path``, which must not exist. Every method may raise OSError.

    Unbuffered, so that what ``append`` accepted is in the system's hands: a killed
    process loses nothing of it, and a power cut only what no ``sync`` covered.
    """

    def __init__(self, path: Path) -> None:
        self._file = path.open("xb", buffering=0)
        self.bytes = 0  # of sound, without the header
        self._write_at(_header(0), 0)
        sync_file(self._file.fileno())

    def append(self, data: bytes) -> None:
        self._write_at(data, HEADER_BYTES + self.bytes)
        self.bytes += len(data)

    def sync(self) -> None:
        self._write_at(_header(self.bytes), 0)
        sync_file(self._file.fileno())

    def close(self) -> None:
        self._file.close()

    def _write_at(self, data: bytes, offset: int) -> None:
        self._file.seek(offset)
        view = memoryview(data)
        while view:
            view = view[self._file.write(view) :]


class WavReader:
    """Reads what a WavWriter wrote, up to the last whole sample in the file."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("rb")
        length = os.fstat(self._file.fileno()).st_size
        self.frames = max(0, length - HEADER_BYTES) // FRAME_BYTES
        self._left = self.frames
        self._file.seek(HEADER_BYTES)

    def read(self, frames: int) -> bytes:
        """Up to ``frames`` samples, little-endian 16 bits each; empty at the end."""
        wanted = min(frames, self._left)
        self._left -= wanted
        return self._file.read(wanted * FRAME_BYTES)

    def __enter__(self) -> WavReader:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()


def _header(data_bytes: int) -> bytes:
    size = min(data_bytes, _LARGEST - 36)
    return _HEADER.pack(
        b"RIFF",
        36 + size,
        b"WAVE",
        b"fmt ",
        16,
        1,
        1,
        RATE,
        RATE * FRAME_BYTES,
        FRAME_BYTES,
        8 * FRAME_BYTES,
        b"data",
        size,
    )
