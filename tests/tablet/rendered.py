"""Practice scenes drawn small and once, photos measured once: that is what the tests would mostly
wait for.

Kept in the system's temporary folder under a digest of the code that draws, so that a
changed scene is drawn anew; processes that run at the same time share them. Scenes on
which a gap is measured keep their size. What was measured is kept by all that it was measured
from, in memory, and for processes of one test in the folder of ``MEASURED_IN``.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import tempfile
from contextlib import suppress
from copy import deepcopy
from pathlib import Path

import evidence_app.photo.measure as measuring
import evidence_app.practice.camera as camera
from evidence_app.practice import play
from evidence_app.practice.scenes import named as scenes_named

_SMALL = "megapixels=1.33"
_MEASURED = ("seam", "leaf")
_draw = scenes_named.scene_of
MEASURED_IN = "EVIDENCE_APP_TESTS_MEASURED"
_measure = measuring.measure
_measured: dict[str, measuring.Measured] = {}


def scene_of(written: str):
    """As ``scenes_named.scene_of``, from the folder when it was drawn before."""
    if "megapixels=" not in written and written.partition("?")[0] not in _MEASURED:
        written += ("&" if "?" in written else "?") + _SMALL
    path = _folder() / hashlib.sha256(written.encode()).hexdigest()[:24]
    with suppress(OSError, pickle.UnpicklingError, EOFError):
        return pickle.loads(path.read_bytes())
    scene = _draw(written)
    _keep(path, scene)
    return scene


def measure(data, wanted, reference=None, card=None, second=None) -> measuring.Measured:
    """As ``measuring.measure``, which reads nothing but what it is given."""
    photos = [each and hashlib.sha256(each).hexdigest() for each in (data, reference, second)]
    key = hashlib.sha256(repr((photos, wanted, card)).encode()).hexdigest()[:24]
    kept = os.environ.get(MEASURED_IN)
    if key not in _measured and kept and Path(kept, key).exists():
        _measured[key] = pickle.loads(Path(kept, key).read_bytes())
    if key not in _measured:
        _measured[key] = _measure(data, wanted, reference, card, second)
        if kept:
            _keep(Path(kept, key), _measured[key])
    result, drawing = _measured[key]
    return deepcopy(result), drawing


def _keep(path: Path, made: object) -> None:
    """Whole or not at all: a process may be killed here."""
    part = path.with_suffix(f".{os.getpid()}")
    part.write_bytes(pickle.dumps(made))
    os.replace(part, path)


def _folder() -> Path:
    code = hashlib.sha256()
    practice = Path(scenes_named.__file__).parent
    for path in [*sorted(practice.glob("*.*")), practice.parent / "optics.py"]:
        code.update(path.read_bytes())
    folder = Path(tempfile.gettempdir()) / f"evidence-app-scenes-{code.hexdigest()[:16]}"
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder


def use() -> None:
    """Have the practice camera draw its scenes this way from now on, and tablet and command line
    measure so, in this process."""
    camera.scene_of = scene_of
    measuring.measure = play.measure = measure
