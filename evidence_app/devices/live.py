"""Cameras that give a running picture: one at this machine, one on the network.

A thread reads every frame and keeps only the newest; a slow reader would otherwise
fall seconds behind the camera. A photo is the first frame that arrives after it was
asked for, encoded with the time at which it arrived.
"""

import os
import threading
import uuid
from abc import ABC, abstractmethod
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

from evidence_app.sentence import sentence, sentences_beside

os.environ.setdefault("OPENCV_FFMPEG_LOGLEVEL", "-8")  # the app says itself what is wrong

import cv2
import numpy as np

from evidence_app.devices.camera import Shot
from evidence_app.devices.controls import Controls
from evidence_app.devices.watch import Watch, WatchedCamera, wall_now
from evidence_app.errors import DeviceError

_OPEN_TIMEOUT_MS = 3000
_READ_TIMEOUT_MS = 2000
_WORDS = sentences_beside(__file__)


class _LiveCamera(WatchedCamera, ABC):
    """What both have in common; they differ in how the device is opened."""

    kind: str

    def __init__(self, name: str, wall: Callable[[], str]) -> None:
        super().__init__(name)
        self._wall = wall
        self._arrival = threading.Condition()
        self._frame: np.ndarray | None = None
        self._frame_wall = ""
        self._count = 0

    def latest(self) -> np.ndarray | None:
        return self._frame

    def take(self, timeout_s: float = 5.0) -> Shot:
        from evidence_app.photo.encode import encode_jpeg

        with self._arrival:
            asked_at = self._count
            if not self._arrival.wait_for(
                lambda: self._count > asked_at and self._frame is not None, timeout_s
            ):
                state = self.status().message
                raise DeviceError.worded(_WORDS["late"], self.name, timeout_s=timeout_s, state=state)
            frame, wall = self._frame, self._frame_wall
            assert frame is not None  # waited for
        unique_id = uuid.uuid4().hex
        return Shot(
            encode_jpeg(frame, wall, unique_id, self.name),
            {"kind": self.kind, "name": self.name, "taken": wall, "unique_id": unique_id},
        )

    @abstractmethod
    def _open(self) -> cv2.VideoCapture:
        """Raises DeviceError when the camera cannot be opened."""

    def _work(self, watch: Watch) -> None:
        capture = self._open()
        try:
            controls = Controls(capture) if self.kind == "camera" else None
            self.offers = controls.offers if controls else {}
            while not watch.ending:
                if controls is not None:
                    controls.follow(self.chosen)
                read, frame = capture.read()
                wall = self._wall()
                if not read or frame is None:
                    raise DeviceError.worded(_WORDS["ended"], self.name)
                with self._arrival:
                    self._frame, self._frame_wall = frame, wall
                    self._count += 1
                    self._arrival.notify_all()
                watch.arrived(
                    sentence(
                        "{name} gives {shape} x {shape2} pixels.",
                        name=self.name,
                        shape=frame.shape[1],
                        shape2=frame.shape[0],
                    )
                )
        finally:
            with self._arrival:
                self._frame = None  # a frozen picture would look like a live one
            capture.release()


class LocalCamera(_LiveCamera):
    """A camera at this machine, by its index; ``width`` and ``height`` are a wish."""

    kind = "camera"

    def __init__(
        self, index: int, width: int = 1920, height: int = 1080, wall: Callable[[], str] = wall_now
    ) -> None:
        super().__init__(f"camera {index}", wall)
        self._index = index
        self._size = (width, height)

    def _open(self) -> cv2.VideoCapture:
        capture = cv2.VideoCapture(self._index)
        if not capture.isOpened():
            capture.release()
            raise self._absent()
        # Uncompressed frames of this size do not fit through USB 2 at a useful rate.
        capture.set(cv2.CAP_PROP_FOURCC, cv2.VideoWriter.fourcc(*"MJPG"))
        capture.set(cv2.CAP_PROP_FRAME_WIDTH, self._size[0])
        capture.set(cv2.CAP_PROP_FRAME_HEIGHT, self._size[1])
        return capture

    def _absent(self) -> DeviceError:
        where = sentence("camera {number}", number=self._index)
        node = Path(f"/dev/video{self._index}")
        if not node.exists():
            return DeviceError.worded(_WORDS["absent"], where)
        if not os.access(node, os.R_OK | os.W_OK):
            return DeviceError.worded(_WORDS["forbidden"], where)
        return DeviceError.worded(_WORDS["held"], where)


class StreamCamera(_LiveCamera):
    """A camera on the network: an MJPEG or other stream that FFmpeg opens.

    The name, which the journal keeps, is the address without password and query.
    """

    kind = "stream"

    def __init__(self, url: str, wall: Callable[[], str] = wall_now) -> None:
        super().__init__(_public_address(url), wall)
        self._url = url

    def _open(self) -> cv2.VideoCapture:
        capture = cv2.VideoCapture(
            self._url,
            cv2.CAP_FFMPEG,
            [
                cv2.CAP_PROP_OPEN_TIMEOUT_MSEC,
                _OPEN_TIMEOUT_MS,
                cv2.CAP_PROP_READ_TIMEOUT_MSEC,
                _READ_TIMEOUT_MS,
            ],
        )
        if not capture.isOpened():
            capture.release()
            raise DeviceError.worded(_WORDS["no-stream"], self.name)
        return capture


def local_camera(rest: str) -> LocalCamera:
    """``0`` or ``0@3840x2160``. Raises DeviceError for anything else."""
    index, _, size = rest.partition("@")
    width, _, height = (size or "1920x1080").partition("x")
    # isdecimal, since int() takes signs, spaces and underscores too
    if not all(part.isdecimal() and len(part) < 6 for part in (index, width, height)):
        raise DeviceError.worded(_WORDS["no-name"], rest=rest)
    return LocalCamera(int(index), int(width), int(height))


def _public_address(url: str) -> str:
    try:
        parts = urlsplit(url)
        host, port = parts.hostname, parts.port
    except ValueError:
        host = port = None
    if not host:
        raise DeviceError.worded(_WORDS["no-address"], url=url)
    return f"{parts.scheme}://{host}{f':{port}' if port else ''}{parts.path}"


if "OPENCV_LOG_LEVEL" not in os.environ:
    cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)
