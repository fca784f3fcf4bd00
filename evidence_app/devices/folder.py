"""A watched folder: a tethered camera or a borescope drops JPEG files into it.

The folder is looked at again and again, since notices of changes do not come from
network shares and cards. A file is taken when it has kept its size and time over
several looks and is a whole JPEG; it stays where it is.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import threading
from collections import deque
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from evidence_app import limits
from evidence_app.devices.camera import Shot
from evidence_app.devices.file import FilePreview, modified, readable_name
from evidence_app.devices.jpeg import Wholeness, wholeness
from evidence_app.devices.watch import Watch, WatchedCamera
from evidence_app.errors import DeviceError, turned
from evidence_app.language import mark
from evidence_app.sentence import Sentence, sentence, sentences_beside

if TYPE_CHECKING:
    import numpy as np

_WORDS = sentences_beside(__file__)
_LOOKS_UNTIL_READ = 3
_LOOKS_UNTIL_READ_AGAIN = 25  # normally 5 s: some disks keep time in steps of 2 s
# Photos held in memory until they are asked for; what is beyond waits in the folder.
_MOST_NOTICES = 20
_MOST_READY = 8
_ENDINGS = (".jpg", ".jpeg", ".jpe")

_Stamp = tuple[int, int]  # size in bytes, time of last change in ns


class _Candidate(Struct):
    """A file not yet decided on, and over how many looks it has kept its stamp."""

    stamp: _Stamp
    lay_there: bool  # when the folder was first seen
    unchanged: int = 0


class FolderCamera(WatchedCamera):
    """Takes the JPEG files that appear in the folder at ``path``, each once, oldest first.

    Files that lie there when the folder is first seen are not taken unless ``existing``.
    Photos that appear while the folder is away are taken when it returns. ``not_taken``
    says of the files since the last photo, the latest last, why they are not taken.
    """

    def __init__(self, path: str | Path, existing: bool = False, look_every_s: float = 0.2) -> None:
        self._path = Path(path)
        super().__init__(readable_name(self._path))
        self._existing = existing
        self._look_every_s = look_every_s
        self._is_mount: bool | None = None  # None: never seen yet
        self._decided: dict[str, _Stamp] = {}
        self._candidates: dict[str, _Candidate] = {}
        self._digests: set[bytes] = set()
        self._notices: dict[str, Sentence] = {}
        self._arrival = threading.Condition()
        self._ready: deque[Shot] = deque()
        self._newest: bytes | None = None
        self._preview = FilePreview()

    @property
    def waiting(self) -> int:
        """How many photos can be taken at once."""
        return len(self._ready)

    def latest(self) -> np.ndarray | None:
        """The newest photo, at a quarter of its size."""
        return self._preview.of(self._newest) if self._newest else None

    def take(self, timeout_s: float = 5.0) -> Shot:
        with self._arrival:
            if not self._arrival.wait_for(lambda: self._ready, timeout_s):
                state = self.status().message
                raise DeviceError.worded(_WORDS["late"], self.name, timeout_s=timeout_s, state=state)
            return self._ready.popleft()

    def _work(self, watch: Watch) -> None:
        for candidate in self._candidates.values():
            candidate.unchanged = 0
        while not watch.ending:
            found = self._look()
            watch.arrived(sentence("The folder {name} is watched.", name=self.name))
            self._decide(found)
            watch.nap(self._look_every_s)

    def _look(self) -> dict[str, _Stamp]:
        """The photo files there are, by name. Raises DeviceError when the folder is away."""
        found: dict[str, _Stamp] = {}
        what = sentence("the folder cannot be read ({reason})")
        remedy = sentence("connect the camera or disk again")
        with turned(OSError, DeviceError, what, self.name, remedy):
            is_mount = os.path.ismount(self._path)
            with os.scandir(self._path) as entries:
                for entry in entries:
                    with contextlib.suppress(FileNotFoundError):  # it went since it was listed
                        if self._can_be_photo(entry):
                            status = entry.stat(follow_symlinks=False)
                            found[entry.name] = (status.st_size, status.st_mtime_ns)
        if self._is_mount and not is_mount:  # the empty mount point stays when a disk goes
            raise DeviceError.worded(_WORDS["no-disk"], self.name)
        if self._is_mount is None:
            self._is_mount = is_mount
            if not self._existing:
                self._candidates = {
                    name: _Candidate(stamp, lay_there=True) for name, stamp in found.items()
                }
        return found

    def _can_be_photo(self, entry: os.DirEntry) -> bool:
        if entry.is_dir(follow_symlinks=False):
            self._notice(
                entry.name, mark("{file} is a folder; only the watched folder itself is looked at")
            )
        elif not entry.name.lower().endswith(_ENDINGS):
            self._notice(entry.name, mark("{file} does not have the name of a JPEG photo; it is not taken"))
        elif not entry.is_file(follow_symlinks=False):
            self._notice(entry.name, mark("{file} is not an ordinary file; it is not taken"))
        else:
            return True
        return False

    def _decide(self, found: dict[str, _Stamp]) -> None:
        for name in self._candidates.keys() - found.keys():
            del self._candidates[name]
        for name, stamp in sorted(found.items(), key=lambda item: (item[1][1], item[0])):
            if self._decided.get(name) == stamp:
                continue
            candidate = self._candidates.get(name)
            if candidate is None:
                self._candidates[name] = _Candidate(stamp, lay_there=False)
            elif candidate.stamp != stamp:
                candidate.stamp, candidate.unchanged = stamp, 0
                if candidate.lay_there:
                    self._notice(
                        name, mark("{file} was already being written when watching began; it is not taken")
                    )
            elif len(self._ready) < _MOST_READY:
                candidate.unchanged += 1
                if candidate.unchanged % _LOOKS_UNTIL_READ_AGAIN == _LOOKS_UNTIL_READ and (
                    candidate.lay_there or self._try_to_take(name, stamp, candidate.unchanged)
                ):
                    self._decided[name] = stamp
                    del self._candidates[name]

    def _try_to_take(self, name: str, stamp: _Stamp, looks: int) -> bool:
        """Whether the file is decided on: taken, or never to be taken."""
        if stamp[0] > limits.NAMED_FILE_BYTES:
            self._notice(name, mark("{file} is far too large for a photo; it is not taken"))
            return True
        path = self._path / name
        try:
            data = path.read_bytes()
            after = path.stat()
            changed = modified(path)
        except OSError as error:
            self._notice(
                name,
                mark("{file} cannot be read ({reason}); it will be tried again"),
                reason=error.strerror,
            )
            return False
        if (after.st_size, after.st_mtime_ns) != stamp or len(data) != stamp[0]:
            return False
        whole = wholeness(data)
        if whole is Wholeness.OTHER:
            self._notice(name, mark("{file} is not a JPEG photo, whatever its name says; it is not taken"))
        elif whole is Wholeness.PARTIAL:
            if looks > _LOOKS_UNTIL_READ:
                self._notice(name, mark("{file} is not complete yet; it is waited for"))
            return False
        else:
            self._take(name, data, changed)
        return True

    def _take(self, name: str, data: bytes, changed: str) -> None:
        digest = hashlib.sha256(data).digest()
        if digest in self._digests:
            self._notice(name, mark("{file} is byte for byte a photo that was taken already"))
            return
        self._digests.add(digest)
        source = {
            "kind": "folder",
            "name": self.name,
            "file": readable_name(Path(name)),
            "modified": changed,
        }
        with self._arrival:
            self._newest, self.not_taken = data, ()
            self._ready.append(Shot(data, source))
            self._arrival.notify_all()

    def _notice(self, name: str, template: str, **more: object) -> None:
        """Once for each file, and again only when it is something else."""
        told = Sentence(template, (("file", readable_name(Path(name))), *more.items()))
        if self._notices.get(name) != told:
            self._notices[name] = told
            self.not_taken = (*self.not_taken, told)[-_MOST_NOTICES:]
