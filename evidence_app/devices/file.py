"""A photo that lies ready as a file."""

from __future__ import annotations

import stat
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from evidence_app import limits
from evidence_app.devices.camera import Shot
from evidence_app.devices.watch import DeviceStatus, Listener, Presence
from evidence_app.errors import DeviceError, turned
from evidence_app.sentence import Sentence, sentence

if TYPE_CHECKING:
    import numpy as np


class FileCamera:
    """Each photo taken is the file at ``path``, byte for byte."""

    not_taken: tuple[Sentence, ...] = ()

    def __init__(self, path: str | Path) -> None:
        self._path = Path(path)
        self.name = readable_name(self._path)
        self._presence = Presence("camera", self.name)
        self._preview = FilePreview()
        self.offers: dict[str, tuple[str, ...]] = {}
        self.chosen: dict[str, str] = {}

    def start(self) -> None:
        self.status()

    def stop(self) -> None:
        self._presence.ended(sentence("{name} is stopped.", name=self.name))

    def latest(self) -> np.ndarray | None:
        try:
            return self._preview.of(read_photo(self._path))
        except DeviceError:
            return None

    def take(self, timeout_s: float = 5.0) -> Shot:
        data = read_photo(self._path)
        return Shot(data, {"kind": "file", "name": self.name, "modified": modified(self._path)})

    def status(self) -> DeviceStatus:
        if self._path.is_file():
            self._presence.here(sentence("{name} is there.", name=self.name))
        else:
            self._presence.gone(sentence("The file {name} is not there.", name=self.name))
        return self._presence.status()

    def listen(self, listener: Listener) -> None:
        self._presence.listen(listener)


class FilePreview:
    """Decodes a photo for the screen, once for as long as it is the same photo."""

    def __init__(self) -> None:
        self._data = b""
        self._image: np.ndarray | None = None

    def of(self, data: bytes) -> np.ndarray | None:
        """A quarter of the size, (H, W, 3) uint8 BGR; None when it cannot be decoded."""
        if data != self._data:
            import cv2
            import numpy as np

            self._data = data
            self._image = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_REDUCED_COLOR_4)
        return self._image


def read_photo(path: Path) -> bytes:
    """Raises DeviceError when there is no such file, or it is far too large for a photo."""
    what = sentence("the photo cannot be read ({reason})")
    remedy = sentence("check the name and that the file may be read")
    with turned(OSError, DeviceError, what, readable_name(path), remedy):
        status = path.stat()
        wrong = sentence("the file has {size:,} bytes, too many for a photo", size=status.st_size)
        if not stat.S_ISREG(status.st_mode) and not stat.S_ISDIR(status.st_mode):
            wrong = sentence("this is not an ordinary file")
        elif status.st_size <= limits.NAMED_FILE_BYTES:
            return path.read_bytes()
        raise DeviceError(wrong, where=readable_name(path), remedy=sentence("choose a JPEG photo"))


def modified(path: Path) -> str:
    """When the file was last written, by its file system, RFC 3339."""
    return datetime.fromtimestamp(path.stat().st_mtime).astimezone().isoformat(timespec="milliseconds")


def readable_name(path: Path) -> str:
    """The last part of ``path`` as text, also when its bytes are no text."""
    name = path.name or str(path.resolve().name)
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
