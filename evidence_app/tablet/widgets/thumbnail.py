"""Pictures on plates, made beside the UI and kept while there is room: small ones of photos, and
those of a step as large as there is room."""

from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import cv2
import numpy as np
from kivy.cache import Cache
from kivy.metrics import dp

from evidence_app.language import say
from evidence_app.photo.intake import decode
from evidence_app.steplist.model import StepPicture
from evidence_app.tablet.widgets import Plate
from evidence_app.tablet.widgets.picture import texture_of
from evidence_app.tablet.widgets.sizes import touch
from evidence_app.tablet.worker import Worker

_MOST_SIDE = 1600  # pixels of a picture of a step
_SMALL, _LARGE = "evidence-app.thumbnails", "evidence-app.steps"
Cache.register(_SMALL, limit=40)
Cache.register(_LARGE, limit=4)


def put_thumbnail(worker: Worker, plate: Plate, path: Path) -> None:
    """Show the photo at ``path`` on ``plate``, now or as soon as it is made."""
    _put(worker, plate, _SMALL, str(path), lambda: decode(path.read_bytes(), 8))


def put_picture(
    worker: Worker, plate: Plate, picture: StepPicture, kept: Callable[[], bytes | None]
) -> None:
    """Show a picture of a step on ``plate``; where the job has not ``kept`` it, say so."""

    def made():
        data = kept() or b""
        if sha256(data).hexdigest() != picture.sha256:
            return None
        pixels = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
        scale = min(1, _MOST_SIDE / max(pixels.shape))
        return cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)

    words = say("A picture of this step is missing or was altered. It shows: {words}", words=picture.shows)
    _put(worker, plate, _LARGE, picture.sha256, made, words)


def _put(worker: Worker, plate: Plate, room: str, key: str, make: Callable, otherwise: str = "") -> None:
    def made(pixels) -> None:
        if pixels is None:
            plate.text, plate.disabled = otherwise, True
            return
        plate.picture = texture_of(pixels)
        Cache.append(room, key, plate.picture)

    plate.picture = Cache.get(room, key)
    if plate.picture is None:
        worker.run(make, made, thread="camera")


class PicturePlate(Plate):
    """A picture over the whole plate, in its own shape and at most ``most()`` high."""

    def __init__(self, most: Callable[[float], float], **given) -> None:
        self._most = most
        super().__init__(kind="row", **given)
        self.bind(width=self._grow)

    @property
    def natural_height(self) -> float:
        if self.text:
            return super().natural_height
        across, high = self.picture.size if self.picture else (10, 7)
        return max(touch(), min(self.width * high / across, self._most(self.width)))

    def _room(self) -> tuple[float, float, float, float]:
        edge = dp(4)
        return self.x + edge, self.y + edge, self.width - 2 * edge, self.height - 2 * edge
