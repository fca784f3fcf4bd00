"""Recording a voice note so that a cut at any moment costs at most its last second.

Sound goes into a WAV file, synced every half second by a thread of the recorder, so
that a slow disk does not hold up the microphone. When the note ends it becomes a
FLAC. Notes that a crash left behind are finished by ``recover_notes``; their files
go only when the journal has them (``clear``).
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from evidence_app.errors import RecordError
from evidence_app.record.durable import storage_error
from evidence_app.sentence import sentence
from evidence_app.system_calls import CAN_RESERVE, reserve
from evidence_app.voice.note.scratch import Binding, NoteFiles, notes_in
from evidence_app.voice.note.wav import FRAME_BYTES, RATE, WavWriter

if TYPE_CHECKING:
    import numpy as np

SYNC_EVERY_S = 0.5
# Sound waiting for a slow disk; when more waits, write() waits too, and then lets go.
_QUEUE_BYTES = 60 * RATE * FRAME_BYTES
_LONGEST_WAIT_S = 2.0
# Room for the FLAC is set aside in such pieces, ahead of the sound (1 MiB is 32 s).
_RESERVE_BYTES = 1 << 20
# FLAC stores what it cannot shorten as it is, with some 14 bytes around 4096 samples.
_OVERHEAD = 1.01
_HEADERS_BYTES = 1 << 15


class FinishedNote(Binding, frozen=True, kw_only=True):
    """A note ready for the journal.

    ``flac`` is None when not one sample was recorded. ``dropouts`` counts the gaps in
    the sound; ``cut_short`` is true when the note ended otherwise than by being asked
    to, and ``problem`` then says why, where that is known.
    """

    flac: Path | None
    seconds: float
    problem: str | None


class NoteRecorder:
    """Records one note; the binding is durable and recording runs when it is made.

    ``started`` is the instant of the start as the journal writes it. ``dropouts`` gives
    the microphone's count so far; the note keeps what is added to it while it runs.
    ``on_problem`` is told, once and from the recorder's thread, when nothing more can
    be kept. Raises StorageFull or RecordError when the note cannot be begun.
    """

    def __init__(
        self,
        scratch: Path,
        note: str,
        step: str | None,
        photo: str | None,
        started: dict,
        dropouts: Callable[[], int] | None = None,
        on_problem: Callable[[RecordError], None] | None = None,
    ) -> None:
        self._files = NoteFiles(scratch, note)
        self._binding = Binding(note, step, photo, started)
        self._microphone_dropouts = dropouts or (lambda: 0)
        self._dropouts_before = self._microphone_dropouts()
        self._own_dropouts = 0
        self._on_problem = on_problem
        self._problem: RecordError | None = None
        self._change = threading.Condition()
        self._waiting: list[bytes] = []
        self._waiting_bytes = 0
        self._closing = False
        self._reserved = 0
        self._finished: FinishedNote | None = None
        self._begin()

    def write(self, block: np.ndarray) -> None:
        """Take int16 samples at 16 kHz, shape (n,). Never raises for a full disk.

        Waits a moment when the disk is far behind; what then still finds no room is
        lost and counted as a dropout.
        """
        data = block.astype("<i2", copy=False).tobytes()
        with self._change:
            room = self._change.wait_for(
                lambda: self._waiting_bytes < _QUEUE_BYTES or self._closed(), _LONGEST_WAIT_S
            )
            if self._closed():
                return
            if not room:
                self._own_dropouts += 1
                return
            self._waiting.append(data)
            self._waiting_bytes += len(data)
            self._change.notify_all()

    @property
    def seconds(self) -> float:
        """Of sound written so far."""
        return self._wav.bytes / (RATE * FRAME_BYTES)

    @property
    def dropouts(self) -> int:
        return self._own_dropouts + self._microphone_dropouts() - self._dropouts_before

    @property
    def problem(self) -> RecordError | None:
        """Why nothing more is kept, if so; what came before is safe."""
        return self._problem

    def finish(self) -> FinishedNote:
        """End the note and make its FLAC; asked again, the same answer.

        Raises StorageFull or RecordError when the FLAC cannot be made; the sound then
        stays in the scratch folder for another try or for ``recover_notes``.
        """
        if self._finished is None:
            dropouts = self.dropouts
            with self._change:
                self._closing = True
                self._change.notify_all()
            self._thread.join()
            self._wav.close()
            self._binding = msgspec.structs.replace(
                self._binding, dropouts=dropouts, ended=True, cut_short=self._problem is not None
            )
            # On a full disk even this may find no room; what it adds is known again when
            # the note is recovered as one cut short, which it is.
            with contextlib.suppress(OSError):
                self._files.bind(self._binding)
            problem = self._problem.sentence() if self._problem else None
            self._finished = _finish(self._files, self._binding, problem)
        return self._finished

    def _begin(self) -> None:
        files = self._files
        try:
            files.scratch.mkdir(parents=True, exist_ok=True)
            if any(path.exists() for path in (files.json, files.wav, files.flac)):
                raise RecordError(
                    sentence("this voice note is already there"),
                    where=files.note,
                    remedy=sentence("open the job again to have it finished"),
                )
            files.bind(self._binding)
            self._wav = WavWriter(files.wav)
            files.sync_folder()
            self._reserve(0)
        except OSError as error:
            raise storage_error(error, files.wav.name) from error
        self._thread = threading.Thread(target=self._run, name=f"note {files.note}", daemon=True)
        self._thread.start()

    def _closed(self) -> bool:
        return self._closing or self._problem is not None

    def _run(self) -> None:
        try:
            self._keep_writing()
        except OSError as error:
            self._problem = storage_error(error, self._files.wav.name)
            with self._change:
                self._waiting.clear()
                self._waiting_bytes = 0
                self._change.notify_all()
            with contextlib.suppress(OSError):
                self._wav.sync()
            if self._on_problem:
                self._on_problem(self._problem)

    def _keep_writing(self) -> None:
        synced = self._wav.bytes
        next_sync = time.monotonic() + SYNC_EVERY_S
        closing = False
        while not closing:
            with self._change:
                self._change.wait_for(
                    lambda: self._waiting or self._closing, max(0, next_sync - time.monotonic())
                )
                data, self._waiting = b"".join(self._waiting), []
                self._waiting_bytes = 0
                closing = self._closing
                self._change.notify_all()
            if data:
                self._reserve(len(data))
                self._wav.append(data)
            if closing or time.monotonic() >= next_sync:
                if self._wav.bytes != synced:
                    self._wav.sync()
                    synced = self._wav.bytes
                self._note_dropouts()
                next_sync = time.monotonic() + SYNC_EVERY_S

    def _note_dropouts(self) -> None:
        if self.dropouts != self._binding.dropouts:
            self._binding = msgspec.structs.replace(self._binding, dropouts=self.dropouts)
            self._files.bind(self._binding)

    def _reserve(self, more: int) -> None:
        """Set room aside for the FLAC of all that is recorded and ``more`` bytes.

        Without it a disk that fills up while recording would leave no room in which
        to finish what was recorded.
        """
        needed = int((self._wav.bytes + more) * _OVERHEAD) + _HEADERS_BYTES
        if needed <= self._reserved or not CAN_RESERVE:
            return
        grown = max(needed, self._reserved + _RESERVE_BYTES)
        with open(self._files.part, "ab") as file:
            reserve(file.fileno(), self._reserved, grown - self._reserved)
        self._reserved = grown


def recover_notes(scratch: Path) -> list[FinishedNote]:
    """Finish every note left in ``scratch``, oldest first; harmless when repeated.

    The files stay until ``clear``. A note that the journal had already is not returned:
    its clearing is brought to its end. Raises StorageFull or RecordError; nothing is
    lost then, and the next call tries again.
    """
    notes = []
    for files in notes_in(scratch):
        try:
            files.unfinished.unlink(missing_ok=True)
            if files.cleared.exists():
                files.clear()
            if not files.began():
                continue
            binding = files.binding()
            if not binding.ended:
                binding = msgspec.structs.replace(binding, cut_short=True)
            notes.append(_finish(files, binding))
        except OSError as error:
            raise storage_error(error, files.wav.name) from error
    return sorted(notes, key=lambda note: (str(note.started.get("wall", "")), note.note))


def put_aside(flac: Path) -> None:
    """Keep a note's sound that counts for nothing, so that no resumed job takes it up again."""
    with contextlib.suppress(OSError):
        flac.replace(flac.with_name(f"counts for nothing {flac.name}"))


def clear(scratch: Path, note: str) -> None:
    """Remove the files of a note that the journal has. Raises RecordError."""
    files = NoteFiles(scratch, note)
    try:
        files.clear()
    except OSError as error:
        raise storage_error(error, files.wav.name) from error


def _finish(files: NoteFiles, binding: Binding, problem: str | None = None) -> FinishedNote:
    """Bring the note to its FLAC from wherever it stands."""
    # Imported here: only the end of a note needs the encoder.
    from evidence_app.voice.note.flac import count_frames, encode_note

    frames = 0
    try:
        if files.flac.exists():
            files.settled()
            try:
                frames = count_frames(files.flac)
            except RecordError as error:  # a damaged disk: the bytes are kept as they are
                problem = error.sentence()
        elif files.wav.exists():
            frames = encode_note(files.wav, files.part)
            if frames:
                files.settle()
    except OSError as error:
        raise storage_error(error, files.part.name) from error
    return FinishedNote(
        **msgspec.structs.asdict(binding),
        flac=files.flac if files.flac.exists() else None,
        seconds=round(frames / RATE, 3),
        problem=problem,
    )
