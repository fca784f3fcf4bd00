"""Small pictures of photos on their plates, made beside the UI and kept while there is room."""

from pathlib import Path

from kivy.cache import Cache

from evidence_app.photo.intake import decode
from evidence_app.tablet.widgets import Plate
from evidence_app.tablet.widgets.picture import texture_of
from evidence_app.tablet.worker import Worker

_ROOM = "evidence-app.thumbnails"
Cache.register(_ROOM, limit=40)


def put_thumbnail(worker: Worker, plate: Plate, path: Path) -> None:
    """Show the photo at ``path`` on ``plate``, now or as soon as it is made."""

    def made(photo) -> None:
        plate.picture = texture_of(photo)
        Cache.append(_ROOM, str(path), plate.picture)

    plate.picture = Cache.get(_ROOM, str(path))
    if plate.picture is None:
        worker.run(lambda: decode(path.read_bytes(), 8), made, thread="camera")
