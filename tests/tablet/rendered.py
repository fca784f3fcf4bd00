"""Practice scenes drawn small and once: drawing them is what the tests would mostly wait for.

Kept in the system's temporary folder under a digest of the code that draws, so that a
changed scene is drawn anew; processes that run at the same time share them. Scenes on
which a gap is measured keep their size.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import tempfile
from contextlib import suppress
from pathlib import Path

import evidence_app.practice.camera as camera
from evidence_app.practice.scenes import named as scenes_named

_SMALL = "megapixels=1.33"
_MEASURED = ("seam", "leaf")
_draw = scenes_named.scene_of


def scene_of(written: str):
    """As ``scenes_named.scene_of``, from the folder when it was drawn before."""
    if "megapixels=" not in written and written.partition("?")[0] not in _MEASURED:
        written += ("&" if "?" in written else "?") + _SMALL
    path = _folder() / hashlib.sha256(written.encode()).hexdigest()[:24]
    with suppress(OSError, pickle.UnpicklingError, EOFError):
        return pickle.loads(path.read_bytes())
    scene = _draw(written)
    part = path.with_suffix(f".{os.getpid()}")
    part.write_bytes(pickle.dumps(scene))
    os.replace(part, path)
    return scene


def _folder() -> Path:
    code = hashlib.sha256()
    practice = Path(scenes_named.__file__).parent
    for path in [*sorted(practice.glob("*.py")), practice.parent / "optics.py"]:
        code.update(path.read_bytes())
    folder = Path(tempfile.gettempdir()) / f"evidence-app-scenes-{code.hexdigest()[:16]}"
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder


def use() -> None:
    """Have the practice camera draw its scenes this way from now on, in this process."""
    camera.scene_of = scene_of
