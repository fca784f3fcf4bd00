"""The practice camera: photographs a rendered scene as a real camera would a thing."""

import hashlib
import threading
import time
from collections.abc import Callable
from urllib.parse import parse_qsl

import cv2
import numpy as np

from evidence_app.devices.camera import Shot
from evidence_app.devices.controls import OFFERS, STOPS
from evidence_app.devices.named import register_camera
from evidence_app.devices.watch import Watch, WatchedCamera, wall_now
from evidence_app.errors import DeviceError
from evidence_app.photo.encode import encode_jpeg
from evidence_app.practice.scenes.named import scene_of, with_key
from evidence_app.sentence import sentence

NAME = "practice camera"
_LIVE_ROWS = 720

_SWAY_PX = 9  # how far the live picture wanders, as from a hand
_REST_S = 0.05


def photograph(scene: str, wall: str) -> Shot:
    """A photo of a named scene (see scenes_named) made at the wall time ``wall``.

    The same scene at the same time gives the same bytes. Raises DeviceError for a
    scene that there is not.
    """
    made = scene_of(scene)
    unique = hashlib.sha256(f"{scene} {wall}".encode()).hexdigest()[:32]
    data = encode_jpeg(made.picture, wall, unique, NAME, made.conditions.jpeg_quality)
    return Shot(data, {"kind": "practice", "name": NAME, "scene": scene})


class PracticeCamera(WatchedCamera):
    """A camera before which scenes can be put, and which can be unplugged.

    ``scene`` is a named scene; ``wall`` gives the wall time of each photo. Photos of
    one scene differ a little from take to take. Its exposure can be set.
    """

    def __init__(self, scene: str, wall: Callable[[], str] = wall_now) -> None:
        super().__init__(NAME)
        self.offers = {"exposure": OFFERS["exposure"]}
        self._wall = wall
        self._lock = threading.Lock()
        self._scene = scene
        self._takes = 0
        self._still: tuple[str, np.ndarray] | None = None
        self._asked = False
        self._unplugged = False

    def put(self, scene: str) -> None:
        """Put another scene before the camera."""
        with self._lock:
            self._scene = scene
            self._takes = 0

    def unplug(self) -> None:
        """Pull the cable, as it happens in the middle of a job."""
        self._unplugged = True

    def plug_in(self) -> None:
        self._unplugged = False

    def latest(self) -> np.ndarray | None:
        self._asked = True
        with self._lock:
            still, scene = self._still, self._exposed()
        if still is None or still[0] != scene or not self.status().present:
            return None
        return _sway(still[1], time.monotonic())

    def take(self, timeout_s: float = 5.0) -> Shot:
        until = time.monotonic() + timeout_s
        while not self.status().present:
            if time.monotonic() >= until:
                raise DeviceError(
                    self.status().message,
                    where=NAME,
                    remedy=sentence("plug it in again, then take the photo"),
                )
            time.sleep(_REST_S)
        with self._lock:
            self._takes += 1
            written = self._exposed()
            if "take=" not in written:  # otherwise the take was chosen with the scene
                written = with_key(written, f"take={self._takes - 1}")
        return photograph(written, self._wall())

    def _work(self, watch: Watch) -> None:
        while not watch.ending:
            if self._unplugged:
                raise DeviceError(
                    sentence("the practice camera was unplugged"), remedy=sentence("plug it in again")
                )
            self._draw_still()
            watch.arrived(sentence("{NAME} is ready.", NAME=NAME))
            watch.nap(_REST_S)

    def _exposed(self) -> str:
        """The scene as it is seen with the exposure that is set."""
        stops = STOPS[self.chosen.get("exposure", "automatic")]
        usual = float(dict(parse_qsl(self._scene.partition("?")[2])).get("exposure", 0))
        return with_key(self._scene, f"exposure={usual + stops}") if stops else self._scene

    def _draw_still(self) -> None:
        """Renders the live picture when somebody looks and the scene is a new one."""
        with self._lock:
            wanted, still = self._exposed(), self._still
        if not self._asked or (still is not None and still[0] == wanted):
            return
        picture = _preview(wanted)
        with self._lock:
            self._still = (wanted, picture)


def _preview(written: str) -> np.ndarray:
    """The scene a little larger than the live picture, of the same shape as the photo."""
    picture = scene_of(with_key(written, "megapixels=1.33")).picture
    scale = (_LIVE_ROWS + 2 * _SWAY_PX) / picture.shape[0]
    return cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)


def _sway(still: np.ndarray, at: float) -> np.ndarray:
    x = _SWAY_PX + round(_SWAY_PX * 0.9 * np.sin(at * 1.3))
    y = _SWAY_PX + round(_SWAY_PX * 0.9 * np.sin(at * 1.7 + 1))
    rows, columns = (length - 2 * _SWAY_PX for length in still.shape[:2])
    return np.ascontiguousarray(still[y : y + rows, x : x + columns])


register_camera("practice", PracticeCamera)
