"""Small pictures of photos for their plates, made beside the UI and kept while there is room."""

from collections import OrderedDict
from pathlib import Path

from kivy.graphics.texture import Texture

from evidence_app.photo.intake import decode
from evidence_app.tablet.widgets import Plate
from evidence_app.tablet.widgets.picture import texture_of
from evidence_app.tablet.worker import Worker

_MOST = 40


class Thumbnails:
    def __init__(self, worker: Worker) -> None:
        self._worker = worker
        self._made: OrderedDict[Path, Texture] = OrderedDict()

    def put_on(self, plate: Plate, path: Path) -> None:
        """Show the photo at ``path`` on ``plate``, now or as soon as it is made."""
        if path in self._made:
            self._made.move_to_end(path)
            plate.picture = self._made[path]
            return

        def made(photo) -> None:
            plate.picture = self._made[path] = texture_of(photo)
            while len(self._made) > _MOST:
                self._made.popitem(last=False)

        self._worker.run(lambda: decode(path.read_bytes(), 8), made, thread="camera")
