"""The files of notes that are not yet in the journal, and their order through a crash.

``NOTE.json`` binds the note to its step and photo and is durable before any sound is
taken. ``NOTE.wav`` grows while recording; ``NOTE.flac.part`` is room set aside for the
FLAC, then the FLAC being written; ``NOTE.flac`` exists only whole and compared, and
only then is the WAV removed. ``NOTE.cleared`` says that the journal has the note and
the rest may go. Whatever the moment of a cut, these names tell what is left to do.
"""

import contextlib
import os
import re
from pathlib import Path

import msgspec

from evidence_app.prepared import prepare
from evidence_app.system_calls import sync_file, sync_folder

_NAME = re.compile(r"[A-Za-z0-9_-]{1,64}")
_ENDINGS = (".json", ".json.part", ".wav", ".flac", ".flac.part", ".cleared")


class Binding(msgspec.Struct, frozen=True):
    """What a note belongs to, and how it went. ``ended``: its end was asked for."""

    note: str
    step: str | None = None
    photo: str | None = None
    started: dict = {}
    dropouts: int = 0
    ended: bool = False
    cut_short: bool = False


class NoteFiles:
    """The paths of one note in ``scratch``; ``note`` is 1 to 64 of A-Z a-z 0-9 _ -."""

    def __init__(self, scratch: Path, note: str) -> None:
        if not _NAME.fullmatch(note):
            raise ValueError(f"not usable as a note's name: {note!r}")
        self.scratch = scratch
        self.note = note
        self.json = scratch / f"{note}.json"
        self.unfinished = scratch / f"{note}.json.part"
        self.wav = scratch / f"{note}.wav"
        self.flac = scratch / f"{note}.flac"
        self.part = scratch / f"{note}.flac.part"
        self.cleared = scratch / f"{note}.cleared"

    def bind(self, binding: Binding) -> None:
        """Write the binding so that after a cut there is the old one or the new one."""
        with self.unfinished.open("wb") as file:
            file.write(msgspec.json.encode(binding))
            file.flush()
            sync_file(file.fileno())
        os.replace(self.unfinished, self.json)
        self.sync_folder()

    def binding(self) -> Binding:
        """As bound; when the file is missing or damaged, only the name is known."""
        try:
            return msgspec.json.decode(self.json.read_bytes(), type=Binding)
        except (OSError, msgspec.MsgspecError):
            return Binding(self.note)

    def began(self) -> bool:
        """Whether a binding or any sound is there; a cut in the first moment leaves none."""
        return any(path.exists() for path in (self.json, self.wav, self.flac, self.cleared))

    def settle(self) -> None:
        """The part has become a whole FLAC: give it its name, then let the WAV go."""
        os.replace(self.part, self.flac)
        self.sync_folder()
        self.settled()

    def settled(self) -> None:
        """The FLAC has its name: the WAV is not needed any more."""
        self.wav.unlink(missing_ok=True)
        self.sync_folder()

    def clear(self) -> None:
        """Remove the note's files; a cut in the middle leaves the marker, to go on from."""
        if self.json.exists():
            os.replace(self.json, self.cleared)
        else:
            self.cleared.touch()
        self.sync_folder()
        for path in self.scratch.glob(f"{self.note}.*"):
            if path != self.cleared:
                path.unlink(missing_ok=True)
        self.sync_folder()
        self.cleared.unlink(missing_ok=True)
        self.sync_folder()

    def sync_folder(self) -> None:
        """Make the names durable, where the system lets a folder be synced."""
        with contextlib.suppress(PermissionError):
            sync_folder(self.scratch)


def notes_in(scratch: Path) -> list[NoteFiles]:
    """Every note that has a file in ``scratch``, by name; other files are left alone."""
    if not scratch.is_dir():
        return []
    names = set()
    for path in scratch.iterdir():
        stem, dot, ending = path.name.partition(".")
        if dot + ending in _ENDINGS and _NAME.fullmatch(stem):
            names.add(stem)
    return [NoteFiles(scratch, name) for name in sorted(names)]


prepare(Binding)
